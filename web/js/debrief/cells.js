// @ts-check
// Cells of tables as people read them: the house's clock where a cell is a time, its unit where it is a length.

import { clockText } from "../words/format.js";

/**
 * @typedef {import("../wire.js").TableDocument["rows"][number][number]} Cell
 * @typedef {import("../wire.js").TableColumn["unit"]} Unit
 * @typedef {import("../wire.js").TableDocument} Table
 */

/** One cell; a dash where there is nothing to say. @param {Cell} cell @param {Unit} unit @param {import("../words/format.js").HouseClock} clock */
export function cellText(cell, unit, clock) {
  if (cell === null || cell === "") return "–";
  if (typeof cell === "boolean") return cell ? "yes" : "no";
  if (typeof cell === "string") return cell;
  switch (unit) {
    case "clock":
      return clockText(clock, cell, true, true);
    case "s":
      return `${signed(cell, 2)} s`;
    case "ppm":
      return `${signed(cell, 0)} ppm`;
    case "percent":
      return `${trimmed(cell, 1)} %`;
    case "count":
      return String(Math.round(cell));
    default:
      return trimmed(cell, 2);
  }
}

/** A number with its minus as a minus; what rounds to nothing has no sign. @param {number} value @param {number} digits */
export function signed(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** @param {number} value @param {number} digits */
function trimmed(value, digits) {
  return Number.isInteger(value) ? signed(value, 0) : signed(value, digits);
}

/** Whether the cells of a column are figures, which stand under each other from the right. @param {Unit} unit */
export function isFigure(unit) {
  return unit !== "text";
}

/** The table with an id, or null. @param {Table[]} tables @param {string} id */
export function tableNamed(tables, id) {
  return tables.find((table) => table.id === id) ?? null;
}

/** The rows of a table as objects by the keys of its columns. @param {Table} table @returns {Record<string, Cell>[]} */
export function rowsByKey({ columns, rows }) {
  return rows.map((row) => Object.fromEntries(columns.map(({ key }, place) => [key, row[place] ?? null])));
}

/** A cell that is a number, else null. @param {Cell | undefined} cell */
export function numberIn(cell) {
  return typeof cell === "number" ? cell : null;
}
