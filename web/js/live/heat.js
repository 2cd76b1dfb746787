// @ts-check
// Film that stands in the light, as one call: all its houses by name, the worst first.

import { boardFrom, hottestFirst } from "./alarms.js";
import { housesBriefly, numberOf } from "../words/names.js";

/** @typedef {import("../wire.js").Alarm} Alarm */
/** @typedef {import("../wire.js").RunInfo} RunInfo */

/** The film in the light, worst first, and in film order where it came at one time. @param {Alarm[]} alarms @param {RunInfo} info @returns {Alarm[]} */
export function heatFrom(alarms, info) {
  const place = new Map(info.stations.map(({ id }, at) => [id, at]));
  return boardFrom(alarms).heat.sort((a, b) => hottestFirst(a, b) || (place.get(a.subject) ?? 0) - (place.get(b.subject) ?? 0));
}

/** What to do, and what is wrong. @param {Alarm[]} heat worst first, at least one @param {RunInfo} info @returns {{todo: string, text: string}} */
export function heatInWords(heat, info) {
  const houses = (/** @type {Alarm[]} */ alarms) => housesBriefly(alarms.map(({ subject }) => numberOf(info, subject)));
  const sure = heat.filter(({ level }) => level === "act");
  const perhaps = heat.filter(({ level }) => level !== "act");
  const todo = `${houses(heat)}: shut the ${heat.length === 1 ? "douser" : "dousers"}`;
  if (sure.length === 0) return { todo, text: "Film stands, perhaps in the light: nobody has said that it is dark." };
  if (perhaps.length === 0) return { todo, text: "Film stands in the light." };
  return { todo, text: `Film stands in the light in ${houses(sure)}, perhaps in ${houses(perhaps)}.` };
}
