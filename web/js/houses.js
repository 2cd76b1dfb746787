// @ts-check
// Each house in plain words: what the lobby and the wall say of it.

import { clockText, countInWords, dayClockText, houseClock, lengthInWords, plural } from "./format.js";
import { startOf } from "./hold.js";
import { standsInPicture } from "./standing.js";

/**
 * @typedef {import("./messages.js").Station} Station
 * @typedef {import("./messages.js").StationSchedule} StationSchedule
 * @typedef {import("./store.js").RunState} RunState
 * @typedef {"before" | "soon" | "showing" | "dark" | "over" | "clear" | "stopped" | "stands"} HouseState `dark`: the picture should be there and is not; `stands`: its film stands in the gate
 * @typedef {object} HouseWords
 * @property {HouseState} state
 * @property {string} now what is so
 * @property {string} next what comes, or empty
 * @property {string} plan how that stands to the plan, or empty where it is kept
 * @property {number} starts_s when the picture starts or started, for sorting
 */

const SOON_S = 30 * 60; // the lobby counts the minutes from here on: chosen
const LATE_S = 60; // less than a minute off the plan is the plan: chosen

/**
 * What there is to say of one house. `planned` is its part of the schedule, null until that is known.
 * @param {Station} station @param {StationSchedule | null} planned @param {RunState} state @param {number} t_s @returns {HouseWords}
 */
export function houseInWords(station, planned, state, t_s) {
  const clock = houseClock(state.info);
  const head_s = station.head_s ?? planned?.passes["head"] ?? null;
  const words = { starts_s: head_s ?? Infinity, plan: "", next: "" };
  const at = (/** @type {number | null} */ s) => (s === null ? "" : clockText(clock, s));
  const on = (/** @type {number | null} */ s) => (s === null ? "" : dayClockText(clock, s)); // a start may be held for days
  if (standsInPicture(station, state)) return { ...words, ...stands(station, state, at, on) };
  switch (station.phase) {
    case "threaded":
    case "rolling":
      return { ...words, ...before(head_s, on, t_s), plan: againstPlan(station.head_s, planned?.passes["head"]) };
    case "showing":
      return { ...words, ...picture(station, head_s, state.info.stations.find(({ id }) => id === station.id)?.inputs["lamp"], at), ...letsOut(station, planned, at) };
    case "tail":
      return { ...words, state: "over", now: `over since ${at(station.end_s)}`, next: "letting out" };
    case "clear":
      return { ...words, state: "clear", now: station.clear_s === null ? "clear" : `clear since ${at(station.clear_s)}` };
    case "stopped":
      return { ...words, state: "stopped", now: `stopped at ${at(station.stopped_s)}`, next: goesOn(station, state, on) };
  }
}

/**
 * People sit before a picture that stands: what they need first is light.
 * @param {Station} station @param {RunState} state @param {(s: number | null) => string} at @param {(s: number | null) => string} on with its day @returns {{state: HouseState, now: string, next: string}}
 */
function stands(station, state, at, on) {
  const since = station.stopped_s === null || station.running ? "" : `since ${at(station.stopped_s)}`;
  return { state: "stands", now: "stands: lights up", next: [since, goesOn(station, state, on)].filter(Boolean).join(", ") };
}

/** @param {Station} station @param {RunState} state @param {(s: number | null) => string} at */
function goesOn(station, state, at) {
  const start_s = startOf(state, station.id);
  return start_s === null ? "" : `to go on at ${at(start_s)}`;
}

/** @param {number | null} head_s @param {(s: number | null) => string} at @param {number} t_s @returns {{state: HouseState, now: string, next: string}} */
function before(head_s, at, t_s) {
  if (head_s === null) return { state: "before", now: "not yet", next: "" };
  const left_s = head_s - t_s;
  if (left_s > SOON_S) return { state: "before", now: "not yet", next: `starts ${at(head_s)}` };
  if (left_s <= 0) return { state: "soon", now: "starting now", next: "" };
  return { state: "soon", now: `starts in ${lengthInWords(left_s)}`, next: `at ${at(head_s)}` };
}

/**
 * What is so while film of the show runs; a lamp that people report may have been lit unreported.
 * @param {Station} station @param {number | null} head_s @param {string | undefined} lampInput @param {(s: number | null) => string} at @returns {{state: HouseState, now: string}}
 */
function picture({ lamp, lamp_s, douser }, head_s, lampInput, at) {
  if (lamp === "out" && lampInput === "contact") {
    const went_out = lamp_s !== null && head_s !== null && lamp_s > head_s;
    return { state: "dark", now: `screen dark since ${at(went_out ? lamp_s : head_s)}` };
  }
  if (douser === "shut") return { state: "dark", now: "screen dark" };
  const known = lamp === "lit" || lampInput !== "tap";
  return { state: "showing", now: `on screen since ${at(head_s)}${known ? "" : ", not confirmed"}` };
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
