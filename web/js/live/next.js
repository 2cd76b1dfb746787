// @ts-check
// What comes next at a station, and which mark it will be.

import { passOf } from "../picture/estimate.js";
import { taskTime } from "./tasktime.js";

/**
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").MarkInfo} MarkInfo
 * @typedef {import("../wire.js").Prompt} Prompt
 * @typedef {{what: string, at_s: number}} Next
 */

const PASSING_S = 1; // a mark counts as still to come until this long after its estimate: chosen

const NEAR_S = 15 * 60; // an end further off is a time of day, not a countdown: chosen

/** What a prompt asks for, short. @type {Record<Prompt["kind"], string>} */
const PROMPT_WORDS = {
  start: "start",
  strike: "strike",
  open_douser: "open the douser",
  confirm_head: "confirm the picture",
  shut_douser: "shut the douser",
  shut_lamp: "shut down the lamp",
  house_clear: "house clear",
  intermission: "intermission",
  change: "change",
};

const WHEN_WORDS = { in: " in", left: " within", over: ", late" };

/** The prompt of the station, else the next that matters to the house; null where nothing is known to come. @param {Station} station @param {Prompt | null} prompt @param {number | null} start_s when a motor that stands is to start @param {number} now_s @returns {Next | null} */
export function nextAt(station, prompt, start_s, now_s) {
  if (prompt) {
    const { at_s, is } = taskTime(prompt, now_s);
    return { what: `${PROMPT_WORDS[prompt.kind]}${WHEN_WORDS[is]}`, at_s };
  }
  switch (station.phase) {
    case "rolling":
      return comes("picture in", station.head_s);
    case "showing":
      return station.end_s !== null && station.end_s - now_s < NEAR_S ? comes("end in", station.end_s) : null;
    case "tail":
      return comes("tail out in", station.clear_s);
    case "threaded":
    case "stopped":
      return comes("start in", start_s);
    default:
      return null;
  }
}

/** @param {string} what @param {number | null} at_s @returns {Next | null} */
function comes(what, at_s) {
  return at_s === null ? null : { what, at_s };
}

/** The marks of a station that were not seen, those expected next first, then those whose time is past, latest first. A change is a mark of the gates at which it is made. @param {Station} station @param {MarkInfo[]} marks @param {number} now_s @returns {{mark: MarkInfo, at_s: number | null}[]} */
export function marksToCome(station, marks, now_s) {
  const open = marks
    .filter(({ id, kind, stations }) => station.passes[id] === undefined && (kind !== "change" || stations.includes(station.id)))
    .map((mark) => ({ mark, at_s: passOf(station, mark)?.t_s ?? null }));
  const ahead = open.filter(({ at_s }) => at_s === null || at_s >= now_s - PASSING_S);
  const past = open.filter((each) => !ahead.includes(each)).reverse();
  return [...ahead, ...past];
}
