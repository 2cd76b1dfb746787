// @ts-check
// Events in words.

import { lengthInWords, slackInWords } from "./format.js";

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
  feed_up: "the source is back",
  feed_down: "the source went",
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
    case "ack":
      return `acknowledged: ${alarmInWords(event, info)}`;
    case "shelve":
      return event.seconds ? `shelved for ${lengthInWords(event.seconds)}: ${alarmInWords(event, info)}` : `no longer shelved: ${alarmInWords(event, info)}`;
    case "clock_step":
      return `the server's clock was set by ${(event.seconds ?? 0).toFixed(1)} s`;
    default:
      return KIND_WORDS[event.kind] ?? event.kind;
  }
}

/** The alarm that an event is about, by its key: `motor lost, House 5`. @param {ObservedEvent} event @param {RunInfo} info */
function alarmInWords({ alarm }, { stations }) {
  const [kind = "", subject = ""] = (alarm ?? "").split(/:(.*)/);
  const houses = subject.split(">").map((id) => stations.find((station) => station.id === id)?.house ?? id);
  const where = houses.length > 1 ? `Houses ${houses.join(" to ")}` : `House ${houses[0]}`;
  return `${kind.replace(/_/g, " ")}, ${subject === "chain" ? "the chain" : where}`;
}

/** Who says so: a person, a tap without a name, or a contact. @param {ObservedEvent} event */
export function sourceInWords({ source, by }) {
  const [kind = "", name] = source.split(/:(.*)/);
  return [by ? `by ${by}` : "", name ? `${kind} ${name}` : kind].filter(Boolean).join(", ");
}
