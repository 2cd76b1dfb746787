// @ts-check
// What the address of the plan desk says: which plan, or what a new one begins with, and which part of it.

/** @typedef {{plan: string} | {begin: "empty" | "example" | "file"} | null} Asked null for the list of plans */

export const PARTS = /** @type {const} */ (["show", "chain", "print", "rules", "sheets", "text", "versions"]);

/** @typedef {(typeof PARTS)[number]} PlanPart */

/** @param {string} search @returns {Asked} */
export function askedFrom(search) {
  const given = new URLSearchParams(search);
  const plan = given.get("plan");
  if (plan) return { plan };
  const begin = given.get("new");
  return begin === "empty" || begin === "example" || begin === "file" ? { begin } : null;
}

/** @param {string} hash @returns {PlanPart} */
export function partFrom(hash) {
  return PARTS.find((part) => `#${part}` === hash) ?? "chain";
}

/** @param {string} name */
export function planAddress(name) {
  return `/plan?${new URLSearchParams({ plan: name })}`;
}

/** @param {"empty" | "example" | "file"} begin */
export function beginAddress(begin) {
  return `/plan?${new URLSearchParams({ new: begin })}`;
}

/** Where a sheet of a plan is opened and printed. @param {string} name @param {string} sheet @param {number | null} crew how many people there are; null where nobody says */
export function sheetAddress(name, sheet, crew) {
  return `/api/plans/kept/${encodeURIComponent(name)}/sheets/${crew === null ? "" : `crew-${crew}/`}${encodeURIComponent(sheet)}.html`;
}

/** The threading list of a plan. @param {string} name @param {number | null} [crew] how many people lace; as many as is usual where nobody says */
export function threadingAddress(name, crew = null) {
  return `/threading?${new URLSearchParams({ plan: name, ...(crew === null ? {} : { crew: String(crew) }) })}`;
}
