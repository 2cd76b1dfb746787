// @ts-check
// The houses of every run as the lobby reads them: one line each, in the order its reader likes.

import { capital, clockText, houseClock, lengthInWords, timeText } from "../words/format.js";
import { heldInWords, heldSchedule, startOf } from "../live/hold.js";
import { houseInWords, onScreenInWords, pausesOf } from "./houses.js";
import { housesBriefly } from "../words/names.js";

/**
 * @typedef {import("../live/live.js").FollowedRun} FollowedRun
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").ScheduledStation} StationSchedule
 * @typedef {{what: string, left_s: number}} Coming what a house does next: `starts`, `lets out`
 * @typedef {object} HouseLine
 * @property {string} key
 * @property {string} run
 * @property {string} station its id
 * @property {string} house
 * @property {string} film
 * @property {string} ofRun which run it belongs to, where another run has a house of this name; else empty
 * @property {import("./houses.js").HouseState} state
 * @property {string} now
 * @property {string} doors
 * @property {string} next
 * @property {string} plan
 * @property {string} again when it goes on, where it stands and somebody has said so: `to go on at 8:20`
 * @property {string} since since when it stands, where it does: `8:14`
 * @property {number} starts_ms since 1970, Infinity where nothing is known
 * @property {number} ends_ms the same of when the house lets out
 * @property {import("../words/format.js").HouseClock} clock
 * @property {number} now_s when it is so
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

/** @param {FollowedRun[]} runs @param {Order} [order] @param {boolean} [lost] whether nothing more is heard @returns {HouseLine[]} */
export function houseLines(runs, order = "starts", lost = false) {
  const clocks = clocksOf(runs);
  return withRuns(
    runs.flatMap((run) => linesOfRun(run, clocks, lost)),
    runNames(runs),
  ).sort(ORDERS[order]);
}

/** Where a house's name is that of another run's too, its line says which run's it is. @param {HouseLine[]} lines @param {Map<string, string>} names of the runs @returns {HouseLine[]} */
function withRuns(lines, names) {
  return lines.map((line) => (lines.some(({ house, run }) => house === line.house && run !== line.run) ? { ...line, ofRun: names.get(line.run) ?? "" } : line));
}

/**
 * The clocks of the houses: one where all of them show the same time, else each with the town whose it is.
 * @param {FollowedRun[]} runs @param {boolean} [seconds] @returns {{town: string, text: string}[]}
 */
export function clocksOf(runs, seconds = false) {
  const known = runs.flatMap(({ state, now_s }) =>
    state
      ? [{ town: townOf(state.info), text: clockText(houseClock(state.info), now_s, seconds), half: clockText(houseClock(state.info), now_s, false, true) }]
      : [],
  );
  const first = known.filter((clock, place) => known.findIndex(({ half }) => half === clock.half) === place);
  return first.length > 1 ? first.map(({ town, text }) => ({ town, text })) : first.map(({ text }) => ({ town: "", text }));
}

/** What a film is called, with whose time it has where the houses have several. @param {import("../wire.js").RunInfo} info @param {{town: string}[]} clocks */
export function filmInWords(info, clocks) {
  return clocks.length > 1 ? `${info.title} (${townOf(info)} time)` : info.title;
}

/** What each run is called beside the others: by its film, where another shows the same with its start too, at last by its own name. @param {FollowedRun[]} runs @returns {Map<string, string>} by run */
export function runNames(runs) {
  const clocks = clocksOf(runs);
  const known = runs.flatMap(({ state }) => (state ? [{ run: state.info.run, names: namesOf(state.info, clocks) }] : []));
  return new Map(known.map(({ run, names }) => [run, names.find((name, n) => known.every((other) => other.run === run || other.names[n] !== name)) ?? run]));
}

/** From the shortest on. @param {import("../wire.js").RunInfo} info @param {{town: string}[]} clocks */
function namesOf(info, clocks) {
  const film = filmInWords(info, clocks);
  return [film, `${film}, ${clockText(houseClock(info), 0)}`, `${film}, ${info.run}`];
}

/** The town whose time a site has: `New York`. @param {import("../wire.js").RunInfo} info */
function townOf({ timezone }) {
  return (timezone.split("/").pop() ?? timezone).replace(/_/g, " ");
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

/** @param {FollowedRun} run @param {{town: string}[]} clocks @param {boolean} lost @returns {HouseLine[]} */
function linesOfRun({ state, schedule: asPlanned, now_s }, clocks, lost) {
  if (!state) return [];
  const { info, stations } = state;
  const schedule = heldSchedule(asPlanned, state);
  return stations.flatMap((station) => {
    const named = info.stations.find(({ id }) => id === station.id);
    if (!named) return [];
    const planned = schedule?.stations.find(({ id }) => id === station.id) ?? null;
    const words = houseInWords(station, planned, state, now_s, lost);
    const clock = houseClock(info);
    const again_s = state.restart?.before === "restart" ? startOf(state, station.id) : null;
    return {
      ...words,
      key: `${info.run} ${station.id}`,
      run: info.run,
      station: station.id,
      house: named.house,
      film: filmInWords(info, clocks),
      ofRun: "",
      starts_ms: clock.zero_ms + words.starts_s * 1000,
      ends_ms: clock.zero_ms + (station.end_s ?? planned?.passes["end"] ?? Infinity) * 1000,
      clock,
      now_s,
      since: words.state === "stands" && station.stopped_s !== null ? timeText(clock, station.stopped_s, now_s) : "",
      again: again_s === null ? "" : `to go on at ${timeText(clock, again_s, now_s)}`,
      coming: coming(station, planned, info, now_s),
    };
  });
}

/** @param {Station} station @param {StationSchedule | null} planned @param {import("../wire.js").RunInfo} info @param {number} now_s @returns {Coming | null} */
function coming(station, planned, info, now_s) {
  const [first] = doings(station, planned, info)
    .flatMap(({ what, at_s }) => (at_s !== null && at_s !== undefined && at_s >= now_s ? [{ what, left_s: at_s - now_s }] : []))
    .sort((one, other) => one.left_s - other.left_s);
  return first ?? null;
}

/** What a house does, and when. @param {Station} station @param {StationSchedule | null} planned @param {import("../wire.js").RunInfo} info @returns {{what: string, at_s: number | null | undefined}[]} */
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

/** What comes next of all the houses, counted down to where something is heard; empty where nothing does. @param {HouseLine[]} lines @param {boolean} [lost] */
export function nextInWords(lines, lost = false) {
  const [first] = lines.flatMap((line) => (line.coming ? { ...line, ...line.coming } : [])).sort((one, other) => one.left_s - other.left_s);
  if (!first) return "";
  const { house, ofRun, what, left_s, clock, now_s } = first;
  return `Next: House ${house}${ofRun ? ` (${ofRun})` : ""} ${what} ${lost ? `at ${timeText(clock, now_s + left_s, now_s)}` : `in ${lengthInWords(left_s)}`}`;
}

/** What is said of each run whose start is held: `held 5 minutes`, with its film where there are several. @param {FollowedRun[]} runs @returns {string[]} */
export function heldRunsInWords(runs) {
  const names = runNames(runs);
  return runs.flatMap(({ state }) => {
    const held = state ? heldInWords(state) : "";
    if (!state || !held) return [];
    return [runs.length > 1 ? `${names.get(state.info.run)}: ${held}` : capital(held)];
  });
}

/** The houses whose people sit before a picture that stands, and when it goes on where that is known; empty where there are none. @param {HouseLine[]} lines */
export function standingHouses(lines) {
  const standing = lines.filter(({ state }) => state === "stands");
  if (standing.length === 0) return "";
  const places = placesOf(standing, lines);
  const said = `${places} ${standing.length === 1 || places.startsWith("Every") ? "stands" : "stand"}: lights up`;
  const again = sameOf(standing.map((line) => line.again));
  return again ? `${said}, ${again}` : said;
}

/** What people are told where the picture stands or is out, and since when; empty where neither is so. @param {HouseLine[]} lines */
export function toTellPeople(lines) {
  const [standing, dark] = [lines.filter(({ state }) => state === "stands"), lines.filter(({ state }) => state === "dark")];
  if (standing.length) {
    const since = sameOf(standing.map((line) => line.since));
    const again = sameOf(standing.map((line) => line.again));
    return `${since ? `Since ${since}. ` : ""}Tell people: the film has stopped; ${again ? again.replace("to go on", "it goes on") : "the booth will say when it goes on"}`;
  }
  return dark.length ? `${placesOf(dark, lines)}: screen dark. Tell people: the picture is out; the booth knows` : "";
}

/** @param {HouseLine[]} some @param {HouseLine[]} all */
function placesOf(some, all) {
  return capital(
    housesBriefly(
      some.map(({ house, ofRun }) => (ofRun ? `${house} (${ofRun})` : house)),
      all.length,
    ),
  );
}

/** What all of them have in common, or empty. @param {string[]} words */
function sameOf(words) {
  const [one = "", ...others] = new Set(words);
  return others.length ? "" : one;
}

/** How many houses see the picture. @param {HouseLine[]} lines */
export function showingInWords(lines) {
  const said = onScreenInWords(lines.map(({ state }) => state));
  return capital(said);
}
