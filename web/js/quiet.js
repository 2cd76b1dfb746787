// @ts-check
// What a desk says where nothing is wrong and where nothing is to be done.

import { clockText, countInWords, houseClock, plural } from "./format.js";
import { houseInWords, onScreenInWords } from "./houses.js";

/** @typedef {import("./store.js").RunState} RunState */

/** Where nothing is wrong: what goes on. @param {RunState} state */
export function quietText({ stations }) {
  const running = stations.filter((station) => station.running).length;
  if (running > 0) return `Nothing wrong: ${countInWords(running)} ${plural(running, "motor")} running`;
  if (stations.every(({ phase }) => phase === "threaded")) return "Nothing wrong: the chain stands, threaded";
  if (stations.every(({ phase }) => phase === "clear")) return "Every house is clear";
  return "No alarm, and no motor running";
}

/** Where nothing has to be done now. @param {RunState} state @param {number} now_s */
export function restText({ info, stations, alarms }, now_s) {
  if (alarms.some(({ level, state }) => level === "act" && state !== "returned")) return "See to the alarm first";
  if (stations.every(({ phase }) => phase === "clear")) return "The run is over: nothing is left to do";
  if (stations.every(({ phase }) => phase === "threaded")) return `Start the motors at ${clockText(houseClock(info), 0)}`;
  const ends_s = stations.flatMap(({ end_s }) => (end_s !== null && end_s > now_s ? [end_s] : []));
  if (ends_s.length === 0) return "Nothing to do now";
  return `Nothing to do until the end at ${clockText(houseClock(info), Math.min(...ends_s))}`;
}

/** How many houses see the picture. @param {RunState} state @param {number} now_s */
export function housesText({ info, stations }, now_s) {
  const inputs = new Map(info.stations.map((station) => [station.id, station.inputs]));
  return onScreenInWords(stations.map((station) => houseInWords(station, null, inputs.get(station.id)?.["lamp"], houseClock(info), now_s).state));
}
