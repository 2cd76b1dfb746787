// @ts-check
// A word from one booth to another: what is usually said, which calls are for this desk, and whether somebody has heard them.

import { clockText } from "../words/format.js";
import { stationsIn } from "../live/steps.js";
import { isTap } from "./taps.js";
import { openAt } from "../lobby/troubles.js";

/**
 * @typedef {import("../wire.js").Alarm} Alarm
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {import("./taps.js").LogLine} LogLine
 * @typedef {import("./taps.js").Observation} Observation
 * @typedef {{booth: string | null, me: string | null}} Here the booth that a desk shows, null for all, and who taps at it
 * @typedef {{line: LogLine, heard: ObservedEvent | null}} SaidCall a call of this desk, with who acknowledged it
 */

/** What one booth says to another, each one touch. Chosen. */
export const USUAL_CALLS = [
  "Ready here",
  "Ready?",
  "Hold the start",
  "Stand by to start",
  "Stand by to stop",
  "Come to the doorway",
  "Lights down, please",
  "All well here",
];

export const TO_ALL = "all";
export const LONGEST_CALL = 200; // characters: one line. Chosen
const SHOWN_S = 10 * 60; // a call that was heard is of interest for so long: chosen
const ARRIVES_S = 60; // for so long a call that was taken may not be among the events yet: chosen
const MOST_SHOWN = 3; // chosen

/** @param {string} to a booth, or `all` @param {string} text @returns {Observation} */
export function callOf(to, text) {
  return { kind: "call", to, text };
}

/** The alarm of a call. @param {{to?: string | null | undefined}} call */
function alarmOf({ to }) {
  return `call:${to === TO_ALL || !to ? "chain" : to}`;
}

/** What of the alarms is for this desk: calls to other booths are not, nor are its own. @param {RunState} state @param {LogLine[]} lines who did what @param {Here} here @returns {Alarm[]} */
export function alarmsHere(state, lines, here) {
  return state.alarms.filter((alarm) => alarm.kind !== "call" || (isFor(alarm, here) && !isOwn(callsOf(alarm, state, lines), here)));
}

/** What of the alarms sounds at this desk: what a house reports calls its own booth. @param {RunState} state @param {LogLine[]} lines who did what @param {Here} here @returns {Alarm[]} */
export function alarmsThatSound(state, lines, here) {
  const ours = new Set(stationsIn(state.info, here.booth));
  const isElsewhere = (/** @type {Alarm} */ { kind, subject }) => kind === "house_report" && !ours.has(subject);
  const isSaidHere = (/** @type {Alarm} */ { kind, subject }) => kind === "house_report" && isOwn(reportsOf(subject, state, lines), here);
  return alarmsHere(state, lines, here).filter((alarm) => !isElsewhere(alarm) && !isSaidHere(alarm));
}

/** @param {Alarm} alarm of a call @param {Here} here */
function isFor({ subject }, { booth }) {
  return booth === null || subject === "chain" || subject === booth;
}

/** The calls that an alarm may be about: whoever said all of them need not hear them. @param {Alarm} alarm @param {RunState} state @param {LogLine[]} lines */
function callsOf({ key }, { events, info }, lines) {
  return lines.filter((line) => isCall(line) && alarmOf(line.event) === key && heardBy(line.event, events, info) === null);
}

/** A call that stands. @param {LogLine} line */
function isCall({ event, state }) {
  return event.kind === "call" && (state === "taken" || state === "waiting");
}

/** What is reported of a house and open, as it was said. @param {string} station @param {RunState} state @param {LogLine[]} lines latest first */
function reportsOf(station, { reports }, lines) {
  const said = (/** @type {import("../wire.js").HouseReport["what"]} */ what) =>
    lines.find(({ event }) => event.kind === "report" && event.station === station && event.what === what);
  return openAt(reports, station).flatMap(({ what }) => said(what) ?? []);
}

/** Whether all that was said was said here: at this device, or by whoever taps at it. @param {LogLine[]} said @param {Here} here */
function isOwn(said, { me }) {
  return said.length > 0 && said.every(({ own, event }) => own || (Boolean(me) && event.by === me));
}

/** Who heard a call first: an acknowledgement is of what was said before it, and of nothing but what it names. @param {ObservedEvent} call @param {ObservedEvent[]} events of the run @param {RunInfo} info @returns {ObservedEvent | null} */
export function heardBy(call, events, info) {
  const takenBack = new Set(events.flatMap(({ retracts }) => retracts ?? []));
  const isOf = (/** @type {ObservedEvent} */ event) => event.kind === "ack" && event.alarm === alarmOf(call) && !takenBack.has(event.id);
  const isNamed = (/** @type {ObservedEvent} */ { text }) => !text || text.split("\n").includes(call.id);
  return events.find((event) => isOf(event) && isNamed(event) && countedAt(event, info) >= countedAt(call, info)) ?? null;
}

/** What acknowledges an alarm; of calls and reports those that this desk knows, as another may be on its way. @param {string} key of the alarm @param {RunState} state @returns {Observation} */
export function ackOf(key, state) {
  const known = [...openCalls(key, state), ...openReports(key, state)];
  return { kind: "ack", alarm: key, ...(known.length ? { text: known.map(({ id }) => id).join("\n") } : {}) };
}

/** @param {string} key of an alarm @param {RunState} state */
function openCalls(key, { events, info }) {
  const takenBack = new Set(events.flatMap(({ retracts }) => retracts ?? []));
  return events.filter((event) => event.kind === "call" && alarmOf(event) === key && !takenBack.has(event.id) && !heardBy(event, events, info));
}

/** What a house reports and is open: the latest of each kind of trouble. @param {string} key of an alarm @param {RunState} state */
function openReports(key, { events, reports }) {
  const open = reports.filter(({ station, over_s }) => over_s === null && key === `house_report:${station}`);
  const takenBack = new Set(events.flatMap(({ retracts }) => retracts ?? []));
  const said = events.filter(({ kind, id }) => kind === "report" && !takenBack.has(id));
  return open.flatMap(
    ({ station, what }) => said.filter((event) => event.station === station && event.what === what).sort((a, b) => b.t.localeCompare(a.t))[0] ?? [],
  );
}

/** When an event counts, in seconds after the run's zero: the plan's lag is taken off every tap. @param {ObservedEvent} event @param {RunInfo} info */
function countedAt({ t, source }, info) {
  return (Date.parse(t) - Date.parse(info.zero)) / 1000 - (isTap(source) ? info.tap_lag_s : 0);
}

/** The latest calls of this desk, and what became of them. @param {RunState} state @param {LogLine[]} lines who did what, latest first @param {Here} here @param {number} now_s @returns {SaidCall[]} */
export function saidCalls(state, lines, here, now_s) {
  const own = lines.filter((line) => isCall(line) && isOwn([line], here));
  return own.flatMap((line) => becameOf(line, state, now_s) ?? []).slice(0, MOST_SHOWN);
}

/** What became of a call; null where that is of no interest any more, or is not known. @param {LogLine} line @param {RunState} state @param {number} now_s @returns {SaidCall | null} */
function becameOf(line, { events, info, alarms }, now_s) {
  const { event, state } = line;
  const heard = heardBy(event, events, info);
  if (heard) return now_s - countedAt(heard, info) < SHOWN_S ? { line, heard } : null;
  const rings = state === "waiting" || alarms.some(({ key }) => key === alarmOf(event));
  return rings || now_s - countedAt(event, info) < ARRIVES_S ? { line, heard } : null;
}

/** What became of a call, in words. @param {SaidCall} said @param {import("../words/format.js").HouseClock} clock */
export function becameInWords({ line, heard }, clock) {
  if (heard) return `heard${heard.by ? ` by ${heard.by}` : ""} at ${clockText(clock, (Date.parse(heard.t) - clock.zero_ms) / 1000, true)}`;
  return line.state === "waiting" ? "waiting to be sent" : "not heard yet";
}
