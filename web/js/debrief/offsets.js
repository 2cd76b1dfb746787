// @ts-check
// Starts and strikes as rows of a chart, from the very tables that stand beside it.

import { numberIn, rowsByKey, signed } from "./cells.js";

/**
 * @typedef {import("../wire.js").TableDocument} Table
 * @typedef {import("./offset-chart.js").OffsetRow} OffsetRow
 */

/** How late each motor started against the plan. @param {Table} table @returns {OffsetRow[]} */
export function startRows(table) {
  return rowsByKey(table).map((row) => {
    const late_s = numberIn(row["late_s"]);
    return { name: houseOf(row), at_s: late_s, window: null, said: late_s === null ? "not seen" : `${signed(late_s, 2)} s` };
  });
}

/** When each lamp was lit, seconds after its window closed: below zero it was in time. @param {Table} table @returns {OffsetRow[]} */
export function strikeRows(table) {
  return rowsByKey(table).map((row) => {
    const [opens_s, closes_s, lit_s] = [numberIn(row["opens_s"]), numberIn(row["closes_s"]), numberIn(row["lit_s"])];
    const window = opens_s === null || closes_s === null ? null : /** @type {[number, number]} */ ([opens_s - closes_s, 0]);
    const at_s = lit_s === null || closes_s === null ? null : lit_s - closes_s;
    return { name: houseOf(row), at_s, window, said: String(row["verdict"] ?? "") };
  });
}

/** @param {Record<string, import("../wire.js").TableDocument["rows"][number][number]>} row */
function houseOf(row) {
  return `House ${row["house"] ?? ""}`;
}
