// @ts-check
// What is planned, where the first start is held: all of it is later by so much until a motor starts.

import { plural } from "../words/format.js";

/**
 * @typedef {import("./store.js").RunState} RunState
 * @typedef {Pick<import("../wire.js").ScheduleDocument, "stations">} Schedule
 * @typedef {import("../wire.js").ScheduledStation} StationSchedule
 */

const HOUR_S = 3600;

/** Whether no motor has started yet. @param {RunState} state */
function isBeforeStart({ stations }) {
  return stations.every(({ started_s }) => started_s === null);
}

/** The schedule as it stands now: what a station that has not started yet has to do is moved with the start. @template {Schedule | null} T @param {T} schedule @param {RunState | null} state @returns {T} */
export function heldSchedule(schedule, state) {
  const hold_s = state?.hold_s ?? 0;
  if (!schedule || !state || hold_s === 0) return schedule;
  const waiting = new Set(state.stations.flatMap(({ id, started_s }) => (started_s === null ? [id] : [])));
  return { ...schedule, stations: schedule.stations.map((planned) => (waiting.has(planned.id) ? moved(planned, hold_s) : planned)) };
}

/** @param {StationSchedule} planned @param {number} by_s @returns {StationSchedule} */
function moved(planned, by_s) {
  return {
    ...planned,
    start_s: planned.start_s + by_s,
    passes: Object.fromEntries(Object.entries(planned.passes).map(([mark, t_s]) => [mark, t_s + by_s])),
    strike_opens_s: planned.strike_opens_s + by_s,
    strike_closes_s: planned.strike_closes_s + by_s,
    clear_s: planned.clear_s + by_s,
  };
}

/** When a station that stands is to start: as planned and held, or as was said since a stop; null where nobody has said, or it runs. @param {RunState} state @param {string} station its id @returns {number | null} */
export function startOf({ info, stations, hold_s, restart }, station) {
  const known = stations.find(({ id }) => id === station);
  if (!known || known.running || known.phase === "clear") return null;
  const planned_s = info.stations.find(({ id }) => id === station)?.start_s;
  if (known.started_s === null) return planned_s === undefined ? null : planned_s + hold_s;
  return restart?.before === "restart" ? restart.start_s : null;
}

/** When the first motor is to start. @param {RunState} state */
export function firstStart({ info, hold_s }) {
  return Math.min(...info.stations.map(({ start_s }) => start_s)) + hold_s;
}

/** `held 5 minutes`, while nothing has started; else empty. @param {RunState} state */
export function heldInWords(state) {
  const { hold_s } = state;
  if (hold_s === 0 || !isBeforeStart(state)) return "";
  return hold_s > 0 ? `held ${holdLength(hold_s)}` : `${holdLength(-hold_s)} before the plan`;
}

/** @param {number} length_s */
function holdLength(length_s) {
  const whole = Math.round(length_s);
  if (whole >= HOUR_S) return hoursInWords(Math.round(whole / 60));
  const [minutes, rest] = [Math.floor(whole / 60), whole % 60];
  if (rest === 0) return `${minutes} ${plural(minutes, "minute")}`;
  return minutes ? `${minutes} min ${rest} s` : `${rest} s`;
}

/** @param {number} minutes an hour of them and more */
function hoursInWords(minutes) {
  const [hours, rest] = [Math.floor(minutes / 60), minutes % 60];
  return `${hours} ${plural(hours, "hour")}${rest ? ` ${rest} ${plural(rest, "minute")}` : ""}`;
}
