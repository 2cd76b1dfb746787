// @ts-check
// Events in words.

import { slackInWords } from "./format.js";

/** @typedef {import("./messages.js").ObservedEvent} ObservedEvent */
/** @typedef {import("./messages.js").RunInfo} RunInfo */

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
  ack: "alarm acknowledged",
  retract: "taken back",
  note: "note",
};

/** An event as a person says it: `House 5: lamp lit`. @param {ObservedEvent} event @param {RunInfo} info */
export function eventInWords(event, info) {
  const house = info.stations.find(({ id }) => id === event.station)?.house;
  const said = whatWasSeen(event, info);
  return house === undefined ? said.charAt(0).toUpperCase() + said.slice(1) : `House ${house}: ${said}`;
}

/** @param {ObservedEvent} event @param {RunInfo} info */
function whatWasSeen(event, info) {
  switch (event.kind) {
    case "mark_pass":
      return `${info.marks.find(({ id }) => id === event.mark)?.title ?? event.mark} passed`;
    case "slack_read":
      return `read ${slackInWords(event.seconds ?? 0)}`;
    case "note":
      return `note: ${event.text ?? ""}`;
    default:
      return KIND_WORDS[event.kind] ?? event.kind;
  }
}
