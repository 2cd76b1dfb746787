// @ts-check
// A whole run as a stringline chart (E.-J. Marey, La méthode graphique, 1885): each mark as it was planned, expected and observed.

import { drawnMarks } from "../picture/stringlines.js";

/**
 * @typedef {import("../wire.js").SeriesPass} SeriesPass
 * @typedef {import("../wire.js").Series} Series
 * @typedef {import("../wire.js").MarkInfo} MarkInfo
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {{t_s: number, sd_s: number, ahead_s: number, station: string, believed: boolean}} PassPoint
 * @typedef {{mark: MarkInfo, planned: PassPoint[], expected: PassPoint[], observed: PassPoint[]}} PassLine
 */

/** One line for each mark worth one; marks at one place of the print are one, whichever of them was seen. @param {Series} series @param {RunInfo} info @returns {PassLine[]} */
export function passLines(series, info) {
  const byStationAndMark = new Map(series.passes.map((pass) => [`${pass.station} ${pass.mark}`, pass]));
  return drawnMarks(info.marks).map((mark) => {
    const names = info.marks.filter(({ x_s }) => Math.round(x_s * 100) === Math.round(mark.x_s * 100)).map(({ id }) => id);
    const points = (/** @type {(pass: SeriesPass) => number | null} */ time) =>
      info.stations.flatMap(({ id, ahead_s }) => {
        const passes = names.flatMap((name) => byStationAndMark.get(`${id} ${name}`) ?? []);
        const pass = passes.find((each) => time(each) !== null);
        const t_s = pass && time(pass);
        if (!pass || t_s === null || t_s === undefined) return [];
        return [{ t_s, sd_s: pass.expected_sd_s ?? 0, ahead_s, station: id, believed: pass.believed }];
      });
    return {
      mark,
      planned: points((pass) => pass.planned_s),
      expected: points((pass) => pass.expected_s),
      observed: points((pass) => pass.observed_s),
    };
  });
}

/** The believed points alone: what did not fit is drawn, but bends no line. @param {PassPoint[]} points */
export function believedPoints(points) {
  return points.filter(({ believed }) => believed);
}

/** Pieces of a slack line without gaps: film was in the link all through each. @param {number[]} t_s @param {import("../wire.js").SeriesLink} link @returns {{t_s: number, slack_s: number, sd_s: number}[][]} */
export function slackPieces(t_s, link) {
  /** @type {{t_s: number, slack_s: number, sd_s: number}[][]} */
  const pieces = [];
  let open = false;
  link.slack_s.forEach((slack_s, place) => {
    const at_s = t_s[place];
    if (slack_s === null || at_s === undefined) {
      open = false;
      return;
    }
    if (!open) pieces.push([]);
    pieces[pieces.length - 1]?.push({ t_s: at_s, slack_s, sd_s: link.sd_s[place] ?? 0 });
    open = true;
  });
  return pieces;
}

/** The rows that alarms take on a strip of time so that none covers another; an alarm that was on at the end goes on to it. @param {import("../wire.js").SeriesAlarm[]} alarms @param {number} end_s @param {number} least_s as if each lasted that long at least @returns {number[]} a row for each */
export function stripRows(alarms, end_s, least_s) {
  /** @type {number[]} */
  const taken = [];
  return alarms.map(({ told_s, over_s }) => {
    const free = taken.findIndex((until_s) => until_s <= told_s);
    const row = free === -1 ? taken.length : free;
    taken[row] = Math.max(over_s ?? end_s, told_s + least_s);
    return row;
  });
}
