// @ts-check
// The houses of every run as the lobby reads them: one line each, in the order its reader likes.

import { capital, dayClockText, houseClock, lengthInWords } from "./format.js";
import { heldInWords, heldSchedule, startOf } from "./hold.js";
import { houseInWords, onScreenInWords, pausesOf } from "./houses.js";
import { housesInWords } from "./names.js";

/**
 * @typedef {import("./live.js").FollowedRun} FollowedRun
 * @typedef {import("./messages.js").Station} Station
 * @typedef {import("./messages.js").StationSchedule} StationSchedule
 * @typedef {{what: string, left_s: number}} Coming what a house does next: `starts`, `lets out`
 * @typedef {object} HouseLine
 * @property {string} key
 * @property {string} run
 * @property {string} station its id
 * @property {string} house
 * @property {string} film
 * @property {import("./houses.js").HouseState} state
 * @property {string} now
 * @property {string} doors
 * @property {string} next
 * @property {string} plan
 * @property {string} again when it goes on, where it stands and somebody has said so: `to go on at 8:20`
 * @property {number} starts_ms since 1970, Infinity where nothing is known
 * @property {number} ends_ms the same of when the house lets out
 * @property {import("./format.js").HouseClock} clock
 * @property {Coming | null} coming
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
    const clock = houseClock(info);
    const again_s = state.restart?.before === "restart" ? startOf(state, station.id) : null;
    return {
      ...words,
      key: `${info.run} ${station.id}`,
      run: info.run,
      station: station.id,
      house: named.house,
      film: info.title,
      starts_ms: clock.zero_ms + words.starts_s * 1000,
      ends_ms: clock.zero_ms + (station.end_s ?? planned?.passes["end"] ?? Infinity) * 1000,
      clock,
      again: again_s === null ? "" : `to go on at ${dayClockText(clock, again_s)}`,
      coming: coming(station, planned, info, now_s),
    };
  });
}

/** @param {Station} station @param {StationSchedule | null} planned @param {import("./messages.js").RunInfo} info @param {number} now_s @returns {Coming | null} */
function coming(station, planned, info, now_s) {
  const [first] = doings(station, planned, info)
    .flatMap(({ what, at_s }) => (at_s !== null && at_s !== undefined && at_s >= now_s ? [{ what, left_s: at_s - now_s }] : []))
    .sort((one, other) => one.left_s - other.left_s);
  return first ?? null;
}

/** What a house does, and when. @param {Station} station @param {StationSchedule | null} planned @param {import("./messages.js").RunInfo} info @returns {{what: string, at_s: number | null | undefined}[]} */
function doings(station, planned, info) {
  switch (station.phase) {
    case "threaded":
    case "rolling":
      return [{ what: "starts", at_s: station.head_s ?? planned?.passes["head"] }];
    case "showing":
      return [
        ...pausesOf(station, info, null).flatMap(({ from_s, to_s }) => [
          { what: "has intermission", at_s: from_s },
          { what: "goes on", at_s: to_s },
        ]),
        { what: "has credits", at_s: station.credits_s },
        { what: "lets out", at_s: station.end_s ?? planned?.passes["end"] },
      ];
    default:
      return [];
  }
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

/** The houses whose people sit before a picture that stands, and when it goes on where that is known; empty where there are none. @param {HouseLine[]} lines */
export function standingHouses(lines) {
  const standing = lines.filter(({ state }) => state === "stands");
  if (standing.length === 0) return "";
  const said = `${housesInWords(standing.map(({ house }) => house))} ${standing.length === 1 ? "stands" : "stand"}: lights up`;
  const [again, ...others] = new Set(standing.map((line) => line.again));
  return again && others.length === 0 ? `${said}, ${again}` : said;
}

/** How many houses see the picture. @param {HouseLine[]} lines */
export function showingInWords(lines) {
  const said = onScreenInWords(lines.map(({ state }) => state));
  return capital(said);
}
