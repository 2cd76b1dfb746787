// @ts-check
// Film that stands in the middle of a show: in which houses, since when, and whether a picture is in the gate.

import { printAt } from "../picture/estimate.js";
import { houseClock, timeText } from "../words/format.js";
import { housesBriefly, numberOf } from "../words/names.js";

/**
 * @typedef {import("./store.js").RunState} RunState
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").RunInfo} RunInfo
 */

const STOPS_FILM = new Set(["film_heat", "film_trip"]);

/** Whether a frame of the picture is in the gate of a station whose film stands. @param {Station} station @param {RunInfo} info */
function isInPicture(station, { marks }) {
  const place_s = printAt(station, station.at_s);
  const [head, end] = ["head", "end"].map((name) => marks.find(({ id }) => id === name)?.x_s);
  const isBy = (/** @type {string} */ name, /** @type {number | undefined} */ x_s) =>
    station.passes[name] !== undefined || (x_s !== undefined && place_s >= x_s);
  return isBy("head", head) && !isBy("end", end);
}

/** Whether a station's film stands with the picture in its gate: its motor stopped, or its failsafe tripped. @param {Station} station @param {RunState} state */
export function standsInPicture(station, { info, alarms }) {
  if (station.phase === "stopped") return isInPicture(station, info);
  if (station.phase !== "showing") return false;
  return alarms.some(({ kind, subject, state }) => subject === station.id && state !== "returned" && STOPS_FILM.has(kind));
}

/** Whether all motors stand in the middle of the show. @param {RunState} state */
export function chainStands({ stations }) {
  const left = stations.filter(({ phase }) => phase !== "clear");
  return left.length > 0 && left.every(({ running }) => !running) && stations.some(({ started_s }) => started_s !== null);
}

/** `The chain stands since 8:14: Houses 3, 4 and 5 in the picture`. @param {RunState} state @param {number} now_s */
export function standingInWords(state, now_s) {
  const { info, stations } = state;
  const stops = stations.flatMap(({ phase, stopped_s }) => (phase === "clear" || stopped_s === null ? [] : [stopped_s]));
  const since = stops.length ? ` since ${timeText(houseClock(info), Math.max(...stops), now_s)}` : "";
  const houses = stations.filter((station) => standsInPicture(station, state)).map(({ id }) => numberOf(info, id));
  return `The chain stands${since}: ${houses.length ? housesBriefly(houses, stations.length) : "no house"} in the picture`;
}

/** `House 3 stands`, of those that stand while others run; else empty. @param {RunState} state */
export function standingAmongRunning({ info, stations }) {
  const houses = stations.filter(({ phase }) => phase === "stopped").map(({ id }) => numberOf(info, id));
  return houses.length ? `${housesBriefly(houses)} ${houses.length === 1 ? "stands" : "stand"}` : "";
}
