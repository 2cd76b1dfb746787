// @ts-check
// Cautions, to stand where the danger is; the site's own rules come first.

/** What goes with a thing to do. @type {Partial<Record<import("./messages.js").Prompt["kind"], string>>} */
export const CAUTIONS = {
  start: "Hands and clothing clear of film, rollers and platters.",
  strike: "Douser shut, housing closed. A xenon lamp can burst: face shield, body cover and gauntlets, trained people only.",
  shut_lamp: "Leave the blower on for at least ten minutes.",
};
