// @ts-check
// What is reported from the houses, one line a house, and what became of the reports of this device.

import { capital, clockText, houseClock } from "../words/format.js";
import { HOLD_ASKED, TROUBLES } from "../words/kinds.js";
import { numberOf } from "../words/names.js";
import { isOpen, logLines } from "../booth/taps.js";
import { asksToHold, hasIt, openAt, sinceInWords, troubleInWords } from "./troubles.js";

/**
 * @typedef {import("../wire.js").HouseReport} HouseReport
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {import("../wire.js").HouseReport["what"]} Trouble
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {import("../live/live.js").FollowedRun} FollowedRun
 * @typedef {import("../booth/taps.js").Tap} Tap
 * @typedef {import("../booth/taps.js").LogLine} LogLine
 * @typedef {import("../booth/taps.js").Observation} Observation
 * @typedef {Record<string, Tap[]>} Mine reports of this device, and what it took back, by run
 * @typedef {"waiting" | "refused" | "sent" | "had" | "over" | "retracting" | "retracted"} Fate `had`: somebody at a booth has it
 * @typedef {object} Said one thing that is said to be wrong
 * @property {string} key
 * @property {string} run
 * @property {string} station
 * @property {string} house its number; empty where it is about the start of the chain
 * @property {string} words `no sound (left side)`
 * @property {string} since when, and by whom; empty where the next one has the same
 * @property {Fate} fate
 * @property {string} answer what became of it, in words
 * @property {string | null} takeBack the event that can be taken back here, or null
 * @property {string | null} putAway the refused event that can be put away here, or null
 *
 * @typedef {{fate: Fate, answer: string, said: Said[]}} Answered what has one answer; nothing else is said twice
 * @typedef {{key: string, house: string, film: string, answered: Answered[]}} HouseSaid
 */

/** A line in the dark is no letter: the server takes no more of a device that only reports. */
export const TEXT_LENGTH = 200;

const OVER_S = 15 * 60; // what was seen to is shown for so long: chosen, as what changed in the lobby is
const TAKEN_BACK_S = 60; // chosen
const SAME_S = 0.02; // what two roundings of one time differ by: chosen

/** What can be said to be wrong, each one touch. @type {{what: Trouble, label: string}[]} */
export const TROUBLE_TOUCHES = /** @type {Trouble[]} */ (Object.keys(TROUBLES)).map((what) => ({
  what,
  label: what === "other" ? "Something else" : capital(TROUBLES[what]),
}));

/** A report from a house. @param {string} station its id @param {Trouble} what @param {string} text may be empty @returns {Observation} */
export function reportFrom(station, what, text) {
  const line = text.replace(/\s+/g, " ").trim().slice(0, TEXT_LENGTH);
  return { kind: "report", station, what, ...(line ? { text: line } : {}) };
}

/** What asks the booths to hold the start; null once a motor has started. @param {RunState} state @returns {Observation | null} */
export function askToHold({ info, restart }) {
  const [first] = info.stations;
  return first && restart?.before === "start" ? reportFrom(first.id, "other", HOLD_ASKED) : null;
}

/** What of this device's taps the lobby shows, with what earlier pages had sent. @param {ObservedEvent[]} earlier @param {Tap[]} taps @returns {Tap[]} */
export function mineOf(earlier, taps) {
  const known = new Set(taps.map(({ event }) => event.id));
  const before = earlier.filter(({ id }) => !known.has(id)).map((event) => ({ event, state: /** @type {const} */ ("taken"), reason: "" }));
  return [...before, ...taps].filter(({ event }) => event.kind === "report" || event.kind === "retract");
}

/** A line for each house of which something is said, what waits for somebody first; without what is told elsewhere. @param {FollowedRun[]} runs @param {Mine} mine @param {Said | null} [told] @returns {HouseSaid[]} */
export function housesSaid(runs, mine, told = null) {
  const houses = runs.flatMap(({ state, now_s }) =>
    state
      ? ofRun(
          state,
          saidOfRun(state, now_s, mine[state.info.run] ?? []).filter((one) => !isSame(one, told)),
        )
      : [],
  );
  return houses.sort((one, other) => Number(isSettled(one)) - Number(isSettled(other)));
}

/** @param {Said} one @param {Said | null} other */
function isSame(one, other) {
  return other !== null && one.run === other.run && one.key === other.key;
}

/** @param {HouseSaid} house */
function isSettled({ answered }) {
  return answered.every(({ fate }) => fate === "over");
}

/** @param {RunState} state @param {Said[]} said @returns {HouseSaid[]} */
function ofRun({ info }, said) {
  return [...new Set(said.map(({ house }) => house))].map((house) => ({
    key: `${info.run} ${house}`,
    house,
    film: info.title,
    answered: byAnswer(said.filter((one) => one.house === house)),
  }));
}

/** @param {Said[]} said @returns {Answered[]} */
function byAnswer(said) {
  const answers = new Set(said.map(({ answer }) => answer));
  return [...answers].map((answer) => {
    const alike = said.filter((one) => one.answer === answer);
    const once = alike.map((one, place) => (alike[place + 1]?.since === one.since ? { ...one, since: "" } : one));
    return { fate: /** @type {Said} */ (alike[0]).fate, answer, said: once };
  });
}

/** @param {RunState} state @param {number} now_s @param {Tap[]} taps @returns {Said[]} */
function saidOfRun(state, now_s, taps) {
  const own = ownLines(taps);
  const shown = state.reports.filter(({ over_s }) => over_s === null || now_s - over_s < OVER_S);
  const unsent = own.filter(({ state: sent }) => sent === "waiting" || sent === "refused");
  return [
    ...shown.map((report) => saidOf(report, own.find((line) => isOf(line, report, state)) ?? null, state)),
    ...unsent.map((line) => unsentOf(line, state)),
  ];
}

/** Reports of this device, latest first. @param {Tap[]} taps */
function ownLines(taps) {
  return logLines(taps, []).filter(({ event }) => event.kind === "report");
}

/** The report that was made last on this device: as a better time of the server's comes in, a later one may be dated earlier. @param {Tap[]} taps in the order of tapping */
function lastReported(taps) {
  const reported = taps.filter(({ event }) => event.kind === "report");
  return reported[reported.length - 1];
}

/** When something was said, as the run counts it: a tap counts a little earlier. @param {ObservedEvent} event @param {RunState} state */
function saidAt({ t }, { info }) {
  return (Date.parse(t) - Date.parse(info.zero)) / 1000 - info.tap_lag_s;
}

/** Whether a line of this device is the very report that stands. @param {LogLine} line @param {HouseReport} report @param {RunState} state */
function isOf({ event, state: sent }, { station, what, since_s }, state) {
  return (sent === "taken" || sent === "retracting") && event.station === station && event.what === what && Math.abs(saidAt(event, state) - since_s) < SAME_S;
}

/** @param {HouseReport} report @param {LogLine | null} line where this device said it @param {RunState} state @returns {Said} */
function saidOf(report, line, state) {
  const { info } = state;
  const fate = line?.state === "retracting" ? "retracting" : fateOf(report, state);
  return {
    key: `${report.station} ${report.what}`,
    run: info.run,
    station: report.station,
    house: asksToHold(report) ? "" : numberOf(info, report.station),
    words: troubleInWords(report),
    since: sinceInWords(report, houseClock(info)),
    fate,
    answer: answerOf(fate, report, state),
    takeBack: line && isOpen(line) && fate !== "over" ? line.event.id : null,
    putAway: null,
  };
}

/** What the server does not have. @param {LogLine} line @param {RunState} state @returns {Said} */
function unsentOf(line, { info }) {
  const { event, state: sent, reason } = line;
  const refused = sent === "refused";
  const at_s = (Date.parse(event.t) - Date.parse(info.zero)) / 1000;
  return {
    key: event.id,
    run: info.run,
    station: event.station ?? "",
    house: asksToHold(event) ? "" : numberOf(info, event.station ?? ""),
    words: troubleInWords(event),
    since: `at ${clockText(houseClock(info), at_s)}`,
    fate: refused ? "refused" : "waiting",
    answer: `${refused ? "refused" : "waiting to be sent"}${reason ? `: ${reason}` : ""}`,
    takeBack: isOpen(line) ? event.id : null,
    putAway: refused ? event.id : null,
  };
}

/** @param {HouseReport} report @param {RunState} state @returns {Fate} */
function fateOf({ station, over_s }, { alarms }) {
  if (over_s !== null) return "over";
  return alarms.some(({ key, state }) => key === `house_report:${station}` && state === "acknowledged") ? "had" : "sent";
}

/** @param {Fate} fate @param {HouseReport} report @param {RunState} state */
function answerOf(fate, report, { info, reports }) {
  const { station, over_s } = report;
  switch (fate) {
    case "over":
      return `${asksToHold(report) ? "answered" : "seen to"} at ${clockText(houseClock(info), over_s ?? 0)}`;
    case "had":
      return `${hasIt(openAt(reports, station)) || "the booth"} has it`;
    case "retracting":
      return "taking back: waiting to be sent";
    default:
      return "nobody has it yet";
  }
}

/** What became of the last report of this device; null where there is none, or it was settled a while ago. @param {FollowedRun[]} runs @param {Mine} mine @returns {Said | null} */
export function latestOf(runs, mine) {
  const [latest] = runs
    .flatMap(({ state, now_s }) => (state ? (becameOf(mine[state.info.run] ?? [], state, now_s) ?? []) : []))
    .sort((one, other) => other.at_ms - one.at_ms);
  return latest?.said ?? null;
}

/** @param {Tap[]} taps @param {RunState} state @param {number} now_s @returns {{at_ms: number, said: Said} | null} */
function becameOf(taps, state, now_s) {
  const last = lastReported(taps);
  const line = last && ownLines(taps).find(({ event }) => event.id === last.event.id);
  if (!line) return null;
  const { event, state: sent } = line;
  const at_ms = Date.parse(event.t);
  if (sent === "waiting" || sent === "refused") return { at_ms, said: unsentOf(line, state) };
  const report = asTaken(event, state);
  if (sent === "retracted") {
    const back = taps.find(({ event: { retracts } }) => retracts === event.id);
    const old = !back || now_s - saidAt(back.event, state) >= TAKEN_BACK_S;
    return old ? null : { at_ms, said: { ...saidOf(report, line, state), key: event.id, fate: "retracted", answer: "taken back", takeBack: null } };
  }
  const same = state.reports.find(({ station, what, since_s }) => station === report.station && what === report.what && since_s > report.since_s - SAME_S);
  if (same && same.over_s !== null && now_s - same.over_s >= OVER_S) return null;
  return { at_ms, said: saidOf(same ?? report, line, state) };
}

/** A report as the server has it, before it says so itself. @param {ObservedEvent} event @param {RunState} state @returns {HouseReport} */
function asTaken(event, state) {
  const { station, what, text, by } = event;
  return {
    station: station ?? "",
    what: what ?? "other",
    text: text ?? null,
    by: by ?? null,
    since_s: saidAt(event, state),
    acked_by: null,
    over_s: null,
    over_by: null,
  };
}
