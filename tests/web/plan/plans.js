// @ts-check
// Plans as the plan desk sees them, for tests of its pure parts.

import { PlanView } from "../../../web/js/plan/view.js";

/** @typedef {import("../../../web/js/wire.js").CheckedPlan} CheckedPlan */

export const USUAL = {
  values: {
    "timing.reserve_s": 2,
    "timing.start_spread_s": 0.1,
    "timing.rate_tolerance_ppm": 50,
    "lamp.latest_s": 15,
    "inputs.motor": "contact",
    timezone: "UTC",
  },
  spreads_s: { common: 0.05, timers: 0.1, hands: 0.6 },
  tolerances_ppm: { synchronous: 50, induction: 3000 },
};

/** What the server answers of a text with these values. @param {Record<string, NonNullable<import("../../../web/js/wire.js").PlanFault["meant"]>>} values @param {Partial<CheckedPlan>} [given] @returns {CheckedPlan} */
export function checkedPlan(values, given = {}) {
  const counts = Object.fromEntries(
    ["print", "stations", "marks", "stop_groups"].map((list) => [
      list,
      new Set(Object.keys(values).flatMap((path) => (path.startsWith(`${list}[`) ? [path.split("]")[0]] : []))).size,
    ]),
  );
  return {
    text: JSON.stringify(values),
    values,
    counts,
    day: "2026-03-14",
    time: "18:50",
    faults: [],
    judged: true,
    findings: [],
    lacing: null,
    people: null,
    site: null,
    info: null,
    schedule: null,
    refused: "",
    ...given,
  };
}

/** @param {Record<string, NonNullable<import("../../../web/js/wire.js").PlanFault["meant"]>>} values @param {Partial<CheckedPlan>} [given] */
export function planView(values, given = {}) {
  const checked = checkedPlan(values, given);
  return new PlanView(checked, values, USUAL, 0, false);
}

/** A chain of houses, each with the path to it in feet. @param {[string, number | null][]} houses */
export function chainOf(houses) {
  return Object.fromEntries(
    houses.flatMap(([house, path], place) => [
      [`stations[${place}].id`, `h${house}`],
      [`stations[${place}].house`, house],
      ...(path === null
        ? []
        : [
            [`stations[${place}].path_ft`, path],
            [`stations[${place}].rollers`, path / 10],
          ]),
    ]),
  );
}
