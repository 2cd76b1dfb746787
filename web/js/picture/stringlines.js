// @ts-check
// The run as a stringline chart (E.-J. Marey, La méthode graphique, 1885): one line a mark, time across, film distance down.

import { passOf } from "./estimate.js";
import { isOwnPoint } from "./film.js";

/**
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {import("../wire.js").MarkInfo} MarkInfo
 * @typedef {Pick<import("../wire.js").ScheduleDocument, "stations">} Schedule
 * @typedef {{t_s: number, sd_s: number, seen: boolean, ahead_s: number, station: string}} StringPoint
 * @typedef {{seen: boolean, points: StringPoint[]}} StringPart observed where seen, else expected
 * @typedef {{mark: MarkInfo, planned: StringPoint[], parts: StringPart[]}} StringLine
 */

/** The marks worth a line: those of the picture and its end, of those at one place of the print the first only; and every point of its own. @param {MarkInfo[]} marks @returns {MarkInfo[]} */
export function drawnMarks(marks) {
  const places = new Set();
  return marks.filter((mark) => {
    const { x_s, kind } = mark;
    if (kind === "leader") return false;
    if (isOwnPoint(mark)) return true;
    const place = Math.round(x_s * 100);
    return !places.has(place) && places.add(place);
  });
}

/** Every drawn line. @param {RunState} state @param {Schedule | null} schedule @returns {StringLine[]} */
export function stringLines(state, schedule) {
  return drawnMarks(state.info.marks).map((mark) => ({
    mark,
    planned: plannedPoints(state, schedule, mark),
    parts: partsOf(knownPoints(state, mark)),
  }));
}

/** @param {RunState} state @param {Schedule | null} schedule @param {MarkInfo} mark @returns {StringPoint[]} */
function plannedPoints({ info }, schedule, mark) {
  return (schedule?.stations ?? []).flatMap(({ id, passes }, index) => {
    const t_s = passes[mark.id];
    const ahead_s = info.stations[index]?.ahead_s;
    return t_s === undefined || ahead_s === undefined ? [] : [{ t_s, sd_s: 0, seen: false, ahead_s, station: id }];
  });
}

/** @param {RunState} state @param {MarkInfo} mark @returns {(StringPoint | null)[]} */
function knownPoints({ info, stations }, mark) {
  return stations.map((station, index) => {
    const pass = passOf(station, mark);
    return pass && { ...pass, ahead_s: info.stations[index]?.ahead_s ?? station.ahead_s, station: station.id };
  });
}

/** Runs of one kind; a part takes in the point it sets out from, so that the line has no gaps. @param {(StringPoint | null)[]} points @returns {StringPart[]} */
function partsOf(points) {
  /** @type {StringPart[]} */
  const parts = [];
  /** @type {StringPoint | null} */
  let before = null;
  for (const point of points) {
    const part = parts[parts.length - 1];
    if (point && part && before && part.seen === point.seen) part.points.push(point);
    else if (point) parts.push({ seen: point.seen, points: before ? [before, point] : [point] });
    before = point;
  }
  return parts;
}

/** The time that the chart shows: `span_s` long with now at a third of it. @param {number} now_s @param {number} span_s @returns {[number, number]} */
export function windowAround(now_s, span_s) {
  return [now_s - span_s / 3, now_s + (span_s * 2) / 3];
}

/** How much time is shown: the film's way through the chain twice over, in whole five minutes from half an hour to an hour and a half. @param {number} chain_s */
export function spanFor(chain_s) {
  return Math.min(Math.max(Math.ceil((chain_s * 2) / 300) * 300, 1800), 5400);
}

/** Round moments inside a window, `every_s` apart on the clock. @param {[number, number]} window @param {number} zero_ms @param {number} every_s @returns {number[]} */
export function roundMoments([from_s, to_s], zero_ms, every_s) {
  const zero_s = zero_ms / 1000;
  const first = Math.ceil((from_s + zero_s) / every_s) * every_s - zero_s;
  return Array.from({ length: Math.max(0, Math.floor((to_s - first) / every_s) + 1) }, (_, step) => first + step * every_s);
}
