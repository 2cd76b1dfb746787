// @ts-check
// Events in words.

import { capital, dayClockText, houseClock, lengthInWords, slackInWords } from "./format.js";
import { alarmName, boothName, houseName, linkName } from "./names.js";
import { asksToHold, troubleInWords } from "./troubles.js";

/** @typedef {import("./wire.js").ObservedEvent} ObservedEvent */
/** @typedef {import("./wire.js").RunInfo} RunInfo */

const OF_A_LINK = new Set(["slack_read", "relaced"]); // told of the station that the link feeds

/** What was seen, by kind. @type {Record<string, string>} */
export const KIND_WORDS = {
  chain_start: "all motors started",
  chain_stop: "all motors stopped",
  motor_start: "motor started",
  motor_stop: "motor stopped",
  lamp_lit: "lamp lit",
  lamp_out: "lamp out",
  douser_open: "douser open",
  douser_shut: "douser shut",
  film_trip: "failsafe tripped",
  ready: "ready to start",
  relaced: "laced anew",
  report: "reported",
  report_over: "seen to",
  call: "call",
  feed_up: "the source is back",
  feed_down: "the source went",
  retract: "taken back",
  note: "note",
};

/** An event as a person says it: `House 5: lamp lit`. @param {ObservedEvent} event @param {RunInfo} info */
export function eventInWords(event, info) {
  const said = whatWasSeen(event, info);
  const place = placeOf(event, info);
  return place === "" ? capital(said) : `${place}: ${said}`;
}

/** Where it was seen or said: a house, the link that feeds it, or the lobby; empty where that is nowhere of this run. @param {ObservedEvent} event @param {RunInfo} info */
function placeOf(event, info) {
  const { kind, station } = event;
  if (asksToHold(event)) return "Lobby";
  const place = info.stations.findIndex(({ id }) => id === station);
  const link = OF_A_LINK.has(kind) ? info.links[place - 1] : undefined;
  if (link) return linkName(info, link.id);
  return station && place >= 0 ? houseName(info, station) : "";
}

/** @param {ObservedEvent} event @param {RunInfo} info */
function whatWasSeen(event, info) {
  switch (event.kind) {
    case "mark_pass":
      return passInWords(event, info);
    case "slack_read":
      return `read ${slackInWords(event.seconds ?? 0)}`;
    case "relaced":
      return `${KIND_WORDS["relaced"]}, ${slackInWords(event.seconds ?? 0)}`;
    case "hold":
      return `the start is set for ${dayClockText(houseClock(info), event.seconds ?? 0, true)}`;
    case "report":
      return asksToHold(event) ? troubleInWords(event) : `${troubleInWords(event)}, reported`;
    case "report_over":
      return overInWords(event);
    case "call":
      return `call to ${boothName(event.to ?? "all")}: ${event.text ?? ""}`;
    case "note":
      return `note: ${event.text ?? ""}`;
    case "ack":
      return `acknowledged: ${alarmName(info, event.alarm ?? "")}`;
    case "shelve":
      return `${event.seconds ? `shelved for ${lengthInWords(event.seconds)}` : "no longer shelved"}: ${alarmName(info, event.alarm ?? "")}`;
    case "clock_step":
      return `the server's clock was set by ${(event.seconds ?? 0).toFixed(1)} s`;
    default:
      return KIND_WORDS[event.kind] ?? event.kind;
  }
}

/** A mark that went by; of one at which something is to be done, that it was done. @param {ObservedEvent} event @param {RunInfo} info */
function passInWords({ mark }, { marks }) {
  const known = marks.find(({ id }) => id === mark);
  return known?.kind === "change" ? `${known.title}: done` : `${known?.title ?? mark} passed`;
}

/** What was seen to: one thing that was wrong, or all of it; with what was said of it. @param {ObservedEvent} event */
function overInWords({ what, text }) {
  const said = what ? `${troubleInWords({ what })}: seen to` : "seen to";
  return text ? `${said} (${text})` : said;
}

/** Who says so: a person, a tap without a name, or a contact. @param {ObservedEvent} event */
export function sourceInWords({ source, by }) {
  const [kind = "", name] = source.split(/:(.*)/);
  if (by && kind === "tap") return `by ${by}, tap`;
  return [by ? `by ${by}` : "", name ? `${kind} ${name}` : kind].filter(Boolean).join(", ");
}
