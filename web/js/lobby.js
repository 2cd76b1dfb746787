// @ts-check
// The houses of every run as the lobby reads them: one line each, in the order its reader likes.

import { capital, houseClock, lengthInWords } from "./format.js";
import { heldInWords, heldSchedule } from "./hold.js";
import { houseInWords, onScreenInWords } from "./houses.js";
import { housesInWords } from "./names.js";

/**
 * @typedef {import("./live.js").FollowedRun} FollowedRun
 * @typedef {import("./messages.js").Station} Station
 * @typedef {object} HouseLine
 * @property {string} key
 * @property {string} house
 * @property {string} film
 * @property {import("./houses.js").HouseState} state
 * @property {string} now
 * @property {string} next
 * @property {string} plan
 * @property {number} starts_ms since 1970, Infinity where nothing is known
 * @property {number} ends_ms the same of when the house lets out
 * @property {import("./format.js").HouseClock} clock
 * @property {{what: "starts" | "lets out", left_s: number} | null} coming
 *
 * @typedef {"house" | "starts" | "lets out"} Order
 */

/** @type {Record<Order, (one: HouseLine, other: HouseLine) => number>} */
const ORDERS = {
  house: byHouse,
  starts: (one, other) => by(one.starts_ms, other.starts_ms) || byHouse(one, other),
  "lets out": (one, other) => by(one.ends_ms, other.ends_ms) || byHouse(one, other),
};

/** @param {FollowedRun[]} runs @param {Order} [order] @returns {HouseLine[]} */
export function houseLines(runs, order = "starts") {
  return runs.flatMap(linesOfRun).sort(ORDERS[order]);
}

/** An order as it was kept, or that of the starts. @param {string | null} kept @returns {Order} */
export function orderFrom(kept) {
  return kept === "house" || kept === "lets out" ? kept : "starts";
}

/** House 10 comes after House 9. @param {HouseLine} one @param {HouseLine} other */
function byHouse(one, other) {
  return one.house.localeCompare(other.house, undefined, { numeric: true }) || one.key.localeCompare(other.key);
}

/** @param {number} one @param {number} other */
function by(one, other) {
  return one < other ? -1 : Number(one > other);
}

/** @param {FollowedRun} run @returns {HouseLine[]} */
function linesOfRun({ state, schedule: asPlanned, now_s }) {
  if (!state) return [];
  const { info, stations } = state;
  const schedule = heldSchedule(asPlanned, state);
  return stations.flatMap((station) => {
    const named = info.stations.find(({ id }) => id === station.id);
    if (!named) return [];
    const planned = schedule?.stations.find(({ id }) => id === station.id) ?? null;
    const words = houseInWords(station, planned, state, now_s);
    return {
      ...words,
      key: `${info.run} ${station.id}`,
      house: named.house,
      film: info.title,
      starts_ms: Date.parse(info.zero) + words.starts_s * 1000,
      ends_ms: Date.parse(info.zero) + (station.end_s ?? planned?.passes["end"] ?? Infinity) * 1000,
      clock: houseClock(info),
      coming: coming(station, planned, now_s),
    };
  });
}

/** @param {Station} station @param {import("./messages.js").StationSchedule | null} planned @param {number} now_s @returns {HouseLine["coming"]} */
function coming({ phase, head_s, end_s }, planned, now_s) {
  const what = phase === "showing" ? "lets out" : "starts";
  const at_s = phase === "showing" ? (end_s ?? planned?.passes["end"]) : (head_s ?? planned?.passes["head"]);
  if (phase === "tail" || phase === "clear" || phase === "stopped" || at_s === undefined || at_s < now_s) return null;
  return { what, left_s: at_s - now_s };
}

/** What comes next of all the houses. @param {HouseLine[]} lines */
export function nextInWords(lines) {
  const [first] = lines.flatMap(({ house, coming: next }) => (next ? { house, ...next } : [])).sort((one, other) => one.left_s - other.left_s);
  if (first) return `Next: House ${first.house} ${first.what} in ${lengthInWords(first.left_s)}`;
  return lines.every(({ state }) => state === "clear") ? "Every house is clear" : "";
}

/** What is said of each run whose start is held: `held 5 minutes`, with its film where there are several. @param {FollowedRun[]} runs @returns {string[]} */
export function heldRunsInWords(runs) {
  return runs.flatMap(({ state }) => {
    const held = state ? heldInWords(state) : "";
    if (!state || !held) return [];
    return [runs.length > 1 ? `${state.info.title}: ${held}` : capital(held)];
  });
}

/** The houses whose people sit before a picture that stands; empty where there are none. @param {HouseLine[]} lines */
export function standingHouses(lines) {
  const houses = lines.filter(({ state }) => state === "stands").map(({ house }) => house);
  return houses.length ? `${housesInWords(houses)} ${houses.length === 1 ? "stands" : "stand"}: lights up` : "";
}

/** How many houses see the picture. @param {HouseLine[]} lines */
export function showingInWords(lines) {
  const said = onScreenInWords(lines.map(({ state }) => state));
  return capital(said);
}
