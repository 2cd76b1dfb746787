// @ts-check
// The times of a plan, for its chart and for its table: both have the same numbers.

import { clockText, houseClock } from "../words/format.js";
import { drawnMarks } from "../picture/stringlines.js";

/**
 * @typedef {import("../wire.js").MarkInfo} MarkInfo
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {Pick<import("../wire.js").ScheduleDocument, "film" | "stations">} PlanSchedule
 * @typedef {import("../words/format.js").HouseClock} HouseClock
 * @typedef {"start" | "whole" | "end"} Part which part of the show is looked at
 * @typedef {{mark: MarkInfo, points: {t_s: number, ahead_s: number}[]}} PlannedLine
 * @typedef {{house: string, cells: (string | null)[]}} TimeRow
 */

const BEFORE_S = 60; // of time shown before the first thing and after the last: chosen

/** One line for each mark that is worth one. @param {RunInfo} info @param {PlanSchedule} schedule @returns {PlannedLine[]} */
export function plannedLines(info, schedule) {
  return drawnMarks(info.marks).map((mark) => ({
    mark,
    points: schedule.stations.flatMap(({ passes }, place) => {
      const [t_s, ahead_s] = [passes[mark.id], info.stations[place]?.ahead_s];
      return t_s === undefined || ahead_s === undefined ? [] : [{ t_s, ahead_s }];
    }),
  }));
}

/** The time that a part of the show takes, with a minute on either side. @param {PlanSchedule} schedule @param {Part} part @returns {[number, number]} */
export function spanOf({ stations }, part) {
  const starts = stations.map(({ start_s, strike_opens_s }) => Math.min(start_s, strike_opens_s));
  const [heads, ends] = ["head", "end"].map((mark) => stations.map(({ passes }) => passes[mark] ?? 0));
  const clears = stations.map(({ clear_s }) => clear_s);
  const from_s = part === "end" ? Math.min(...(ends ?? [])) : Math.min(...starts);
  const to_s = part === "start" ? Math.max(...(heads ?? [])) : Math.max(...clears);
  return [from_s - BEFORE_S, to_s + BEFORE_S];
}

/** How far apart the times under a chart stand, so that at most `most` do. @param {number} span_s @param {number} most */
export function tickEvery(span_s, most) {
  const steps = [30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
  return steps.find((step) => span_s / step <= most) ?? 14400;
}

/** Where each station is drawn, from 0 to 1: by its film distance; evenly where no path is given. @param {RunInfo} info @returns {number[]} */
export function heights({ stations }) {
  const chain_s = Math.max(...stations.map(({ ahead_s }) => ahead_s), 0);
  return stations.map(({ ahead_s }, place) => (chain_s > 0 ? ahead_s / chain_s : place / Math.max(stations.length - 1, 1)));
}

/** The house's clock as a plan has it, whose times are written by it: it counts to 24, whatever the reader's language. @param {RunInfo} info @returns {HouseClock} */
export function planClock(info) {
  return houseClock(info, "en-GB");
}

/** @param {HouseClock} clock @param {number} t_s @param {boolean} [seconds] */
export function timeText(clock, t_s, seconds = false) {
  return clockText(clock, t_s, seconds).replace(/^\d:/, "0$&");
}

/** A time of day; with its day where that is not the day of the start. @param {HouseClock} clock @param {number} t_s @param {boolean} [seconds] */
export function momentText(clock, t_s, seconds = false) {
  const day = dayOf(clock, t_s);
  return `${timeText(clock, t_s, seconds)}${day === dayOf(clock, 0) ? "" : ` ${day}`}`;
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const days = new Map();

/** @param {HouseClock} clock @param {number} t_s */
function dayOf({ zero_ms, timezone }, t_s) {
  let format = days.get(timezone);
  // Making one takes a hundred times as long as using it, and a table has hundreds of times.
  if (!format) days.set(timezone, (format = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", timeZone: timezone })));
  return format.format(zero_ms + t_s * 1000).replace(",", "");
}

const SAME_S = 1e-6; // chosen: what is nearer to a whole second is at it

/** Rounded as on paper, so that nothing told is outside of what is meant: windows inward, ends late. */
const up = (/** @type {number} */ t_s) => Math.ceil(t_s - SAME_S);
const down = (/** @type {number} */ t_s) => Math.floor(t_s + SAME_S);

/** The columns of the table of times, what matters to the crew first: what each is called, when it is, at a station, and how that is rounded. @type {[string, (station: import("../wire.js").ScheduledStation, info: RunInfo) => number | null, (t_s: number) => number][]} */
const COLUMNS = [
  ["Motor starts", ({ start_s }) => start_s, Math.round],
  ["Strike from", ({ strike_opens_s }) => strike_opens_s, up],
  ["Strike by", ({ strike_closes_s }) => strike_closes_s, down],
  ["Head", ({ passes }) => passes["head"] ?? null, down],
  ["End", ({ passes }) => passes["end"] ?? null, up],
  ["Clear", ({ clear_s }) => clear_s, up],
  ["Feature", ({ passes }, info) => passes[firstOf(info, "feature")] ?? null, down],
  ["Credits", ({ passes }, info) => passes[firstOf(info, "credits")] ?? null, down],
];

/** @param {RunInfo} info @param {string} kind */
function firstOf(info, kind) {
  return info.segments.find((segment) => segment.kind === kind)?.id ?? "";
}

/** The table of times: its columns, and a row for each house in film order. @param {RunInfo} info @param {PlanSchedule} schedule @returns {{columns: string[], rows: TimeRow[]}} */
export function timeTable(info, schedule) {
  const clock = planClock(info);
  const used = COLUMNS.filter(([, time]) => schedule.stations.some((station) => time(station, info) !== null));
  const rows = schedule.stations.map((station, place) => {
    const times = used.map(([, time, rounded]) => {
      const t_s = time(station, info);
      return t_s === null ? null : rounded(t_s);
    });
    const advertised = info.stations[place]?.advertised ?? null;
    return { house: station.house, cells: [...times.map((t_s) => (t_s === null ? null : momentText(clock, t_s, true))), advertised] };
  });
  return { columns: [...used.map(([name]) => name), "Advertised"], rows };
}
