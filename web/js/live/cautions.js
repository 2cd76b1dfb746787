// @ts-check
// Cautions, to stand where the danger is; the site's own rules come first.

/** What goes with a thing to do. @type {Partial<Record<import("../wire.js").Prompt["kind"], string>>} */
export const CAUTIONS = {
  start: "Eyes and hands: everybody clear of film, rollers and platters?",
  strike:
    "Douser shut, housing closed. A xenon lamp can burst: face shield, body cover and gauntlets, trained people only. " +
    "The limits are the lamphouse maker's.",
  open_douser: "Eyes and hands: nobody looks into the beam, and no hand is in the gate.",
  shut_douser: "Eyes and hands: shut the douser only. Film, gate and lamphouse are hot, and the motor may start.",
  shut_lamp: "Leave the blower on for at least ten minutes.",
  intermission: "Eyes and hands: the film runs on in the dark. Keep clear of film and rollers; lamphouse and gate are hot.",
  change: "Eyes and hands: the film runs on. Nobody looks into the beam, and no hand is in the gate.",
  house_clear: "Eyes and hands: look that the tail is out, and keep hands off until everything stands still.",
};

/** Before film that stands is started again. */
export const BEFORE_RESTART = "Eyes and hands: everybody clear of film and rollers? Film that pulls tight brings down rollers and arms: never grab it.";

export const SITE_RULES = "The site's own rules come first.";
