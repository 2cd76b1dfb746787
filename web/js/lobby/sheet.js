// @ts-check
// The houses' times on paper: when each starts, has its intermission and its credits, and lets out.

import { clockText, dayClockText, houseClock } from "../words/format.js";
import { heldSchedule } from "../live/hold.js";
import { pausesOf } from "./houses.js";
import { clocksOf, filmInWords } from "./lobby.js";

/**
 * @typedef {import("../live/live.js").FollowedRun} FollowedRun
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").ScheduledStation} StationSchedule
 * @typedef {{key: string, house: string, film: string, starts: string, intermission: string, credits: string, out: string}} SheetRow
 */

const UNKNOWN = "not known"; // of film that stands

/** A row for each house, by its number. @param {FollowedRun[]} runs @returns {SheetRow[]} */
export function sheetRows(runs) {
  const clocks = clocksOf(runs);
  return runs
    .flatMap((run) => rowsOfRun(run, clocks))
    .sort((one, other) => one.house.localeCompare(other.house, undefined, { numeric: true }) || one.key.localeCompare(other.key));
}

/** @param {FollowedRun} run @param {{town: string}[]} clocks @returns {SheetRow[]} */
function rowsOfRun({ state, schedule: asPlanned }, clocks) {
  if (!state) return [];
  const { info } = state;
  const schedule = heldSchedule(asPlanned, state);
  const clock = houseClock(info);
  const credits = info.segments.filter(({ kind }) => kind === "credits").pop();
  return state.stations.flatMap((station) => {
    const named = info.stations.find(({ id }) => id === station.id);
    if (!named) return [];
    const planned = schedule?.stations.find(({ id }) => id === station.id) ?? null;
    const at = (/** @type {number | null} */ known_s, /** @type {string} */ mark) => whenText(known_s ?? plannedPass(station, planned, mark), clock);
    const pauses = pausesOf(station, info, planned).map(({ from_s, to_s }) => `${clockText(clock, from_s)} to ${dayClockText(clock, to_s, false, true)}`);
    return [
      {
        key: `${info.run} ${station.id}`,
        house: named.house,
        film: filmInWords(info, clocks),
        starts: at(station.head_s, "head"),
        intermission: pauses.join(", "),
        credits: credits ? at(station.credits_s, credits.id) : "",
        out: at(station.end_s, "end"),
      },
    ];
  });
}

/** When a mark was planned to pass, of a station that has not started: after that the plan says nothing of it. @param {Station} station @param {StationSchedule | null} planned @param {string} mark */
function plannedPass({ started_s }, planned, mark) {
  return started_s === null ? (planned?.passes[mark] ?? null) : null;
}

/** @param {number | null} t_s @param {import("../words/format.js").HouseClock} clock */
function whenText(t_s, clock) {
  return t_s === null ? UNKNOWN : dayClockText(clock, t_s, false, true);
}

/** When the sheet was printed, by the house's clock and calendar: `7:14 on Saturday 14 March`. @param {import("../words/format.js").HouseClock} clock @param {number} now_s */
export function printedAt(clock, now_s) {
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", timeZone: clock.timezone });
  return `${clockText(clock, now_s, false, true)} on ${day.format(clock.zero_ms + now_s * 1000).replace(",", "")}`;
}
