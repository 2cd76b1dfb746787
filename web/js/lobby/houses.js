// @ts-check
// Each house in plain words: what the lobby and the wall say of it.

import { passOf } from "../picture/estimate.js";
import { clockText, countInWords, houseClock, lengthInWords, plural, timeText } from "../words/format.js";
import { startOf } from "../live/hold.js";
import { standsInPicture } from "../live/standing.js";

/**
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").ScheduledStation} StationSchedule
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {"before" | "soon" | "showing" | "intermission" | "dark" | "over" | "clear" | "stopped" | "stands"} HouseState `dark`: the picture should be there and is not; `stands`: its film stands in the gate
 * @typedef {{from_s: number, to_s: number}} Pause an intermission at one gate
 * @typedef {object} HouseWords
 * @property {HouseState} state
 * @property {string} now what is so
 * @property {string} doors what opens its doors before the house lets out, or empty: its intermission, or the credits
 * @property {string} next what comes, or empty
 * @property {string} plan how that stands to the plan, or empty where it is kept
 * @property {number} starts_s when the picture starts or started, for sorting
 */

const SOON_S = 30 * 60; // the lobby counts the minutes from here on: chosen
const BEFORE_PAUSE_S = 20; // so shortly before an intermission light may go: as server/timeline/evidence.py has it
const LATE_S = 60; // less than a minute off the plan is the plan: chosen

/**
 * What there is to say of one house. `planned` is its part of the schedule, null until that is known; where `lost` nothing is heard since `t_s`, and nothing is counted down.
 * @param {Station} station @param {StationSchedule | null} planned @param {RunState} state @param {number} t_s @param {boolean} [lost] @returns {HouseWords}
 */
export function houseInWords(station, planned, state, t_s, lost = false) {
  const clock = houseClock(state.info);
  const head_s = station.head_s ?? planned?.passes["head"] ?? null;
  const words = { starts_s: head_s ?? Infinity, plan: "", next: "", doors: "" };
  const at = (/** @type {number | null} */ s) => (s === null ? "" : timeText(clock, s, t_s));
  if (standsInPicture(station, state)) return { ...words, ...stands(station, state, at) };
  switch (station.phase) {
    case "threaded":
    case "rolling":
      return { ...words, ...before(head_s, at, t_s, lost), plan: againstPlan(station.head_s, planned?.passes["head"]) };
    case "showing":
      return { ...words, ...shown(station, head_s, state.info, t_s, at), ...letsOut(station, planned, at) };
    case "tail":
      return { ...words, state: "over", now: `over since ${at(station.end_s)}`, next: "letting out" };
    case "clear":
      return { ...words, state: "clear", now: station.clear_s === null ? "clear" : `clear since ${at(station.clear_s)}` };
    case "stopped":
      return { ...words, state: "stopped", now: `stopped at ${at(station.stopped_s)}`, next: goesOn(station, state, at) };
  }
}

/**
 * People sit before a picture that stands: what they need first is light.
 * @param {Station} station @param {RunState} state @param {(s: number | null) => string} at @returns {{state: HouseState, now: string, next: string}}
 */
function stands(station, state, at) {
  const since = station.stopped_s === null || station.running ? "" : `since ${at(station.stopped_s)}`;
  return { state: "stands", now: "stands: lights up", next: [since, goesOn(station, state, at)].filter(Boolean).join(", ") };
}

/** @param {Station} station @param {RunState} state @param {(s: number | null) => string} at */
function goesOn(station, state, at) {
  const start_s = startOf(state, station.id);
  return start_s === null ? "" : `to go on at ${at(start_s)}`;
}

/** @param {number | null} head_s @param {(s: number | null) => string} at @param {number} t_s @param {boolean} lost @returns {{state: HouseState, now: string, next: string}} */
function before(head_s, at, t_s, lost) {
  if (head_s === null) return { state: "before", now: "not yet", next: "" };
  const left_s = head_s - t_s;
  if (lost) return { state: left_s > SOON_S ? "before" : "soon", now: `starts ${at(head_s)}`, next: "" };
  if (left_s > SOON_S) return { state: "before", now: "not yet", next: `starts ${at(head_s)}` };
  if (left_s <= 0) return { state: "soon", now: "starting now", next: "" };
  return { state: "soon", now: `starts in ${lengthInWords(left_s)}`, next: `at ${at(head_s)}` };
}

/**
 * What is so from the head to the end of the show. In an intermission the screen is dark, as it should be.
 * @param {Station} station @param {number | null} head_s @param {RunInfo} info @param {number} t_s @param {(s: number | null) => string} at
 * @returns {{state: HouseState, now: string, doors: string}}
 */
function shown(station, head_s, info, t_s, at) {
  const pauses = pausesOf(station, info, null);
  const [pause, ...later] = pauses.filter(({ to_s }) => t_s < to_s);
  const since_s = Math.max(head_s ?? -Infinity, ...pauses.flatMap(({ to_s }) => (to_s <= t_s ? [to_s] : [])));
  const seen = picture(station, Number.isFinite(since_s) ? since_s : null, info.stations.find(({ id }) => id === station.id)?.inputs["lamp"], at);
  const plain = (/** @type {number | null} */ s) => (s === null ? "" : clockText(houseClock(info), s)); // when it lets out stands beside it, with its half of the day
  if (!pause || t_s < pause.from_s - (seen.state === "dark" ? BEFORE_PAUSE_S : 0)) return { ...seen, doors: doors(station, pause, t_s, plain) };
  return { state: "intermission", now: `intermission until ${at(pause.to_s)}`, doors: doors(station, later[0], t_s, plain) };
}

/** The intermissions of a print at a gate, where the picture goes on after them; by the plan before its start. @param {Station} station @param {RunInfo} info @param {StationSchedule | null} planned @returns {Pause[]} */
export function pausesOf(station, { segments, marks }, planned) {
  const pass = (/** @type {string} */ segment) => {
    const mark = marks.find(({ id }) => id === segment);
    const known_s = mark && passOf(station, mark)?.t_s;
    return known_s ?? (station.started_s === null ? planned?.passes[segment] : undefined);
  };
  return segments.flatMap(({ id, kind }, place) => {
    const after = segments[place + 1];
    if (kind !== "intermission" || !after || after.kind === "tail") return [];
    const [from_s, to_s] = [pass(id), pass(after.id)];
    return from_s !== undefined && to_s !== undefined ? [{ from_s, to_s }] : [];
  });
}

/** What comes at the doors before the house lets out. @param {Station} station @param {Pause | undefined} pause the next one @param {number} t_s @param {(s: number | null) => string} at */
function doors({ credits_s }, pause, t_s, at) {
  if (pause) return `intermission ${at(pause.from_s)}`;
  if (credits_s === null) return "";
  return `credits ${credits_s <= t_s ? "since " : ""}${at(credits_s)}`;
}

/**
 * What is so while the picture should be there, since `since_s`; a lamp that people report may have been lit unreported.
 * @param {Station} station @param {number | null} since_s @param {string | undefined} lampInput @param {(s: number | null) => string} at @returns {{state: HouseState, now: string}}
 */
function picture({ lamp, lamp_s, douser }, since_s, lampInput, at) {
  if (lamp === "out" && lampInput === "contact") {
    const went_out = lamp_s !== null && since_s !== null && lamp_s > since_s;
    return { state: "dark", now: `screen dark since ${at(went_out ? lamp_s : since_s)}` };
  }
  if (douser === "shut") return { state: "dark", now: "screen dark" };
  const known = lamp === "lit" || lampInput !== "tap";
  return { state: "showing", now: `on screen since ${at(since_s)}${known ? "" : ", not confirmed"}` };
}

/** How many houses see the picture. @param {HouseState[]} states */
export function onScreenInWords(states) {
  const showing = states.filter((state) => state === "showing").length;
  if (showing === 0) return "no house on screen";
  return `${countInWords(showing)} of ${countInWords(states.length)} ${plural(states.length, "house")} on screen`;
}

/** @param {Station} station @param {StationSchedule | null} planned @param {(s: number | null) => string} at */
function letsOut(station, planned, at) {
  const end_s = station.end_s ?? planned?.passes["end"] ?? null;
  return { next: end_s === null ? "" : `lets out ${at(end_s)}`, plan: againstPlan(station.end_s, planned?.passes["end"]) };
}

/** How it stands to the plan: `three minutes late`, or empty. @param {number | null} known_s @param {number | undefined} planned_s */
export function againstPlan(known_s, planned_s) {
  if (known_s === null || planned_s === undefined) return "";
  const off_s = known_s - planned_s;
  if (Math.abs(off_s) < LATE_S) return "";
  const minutes = Math.round(Math.abs(off_s) / 60);
  return `${countInWords(minutes)} ${plural(minutes, "minute")} ${off_s > 0 ? "late" : "early"}`;
}
