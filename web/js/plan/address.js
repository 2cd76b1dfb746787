// @ts-check
// What the address of the plan desk says: which plan, or what a new one begins with, and which part of it.

/** @typedef {{plan: string} | {begin: "empty" | "example" | "file"} | null} Asked null for the list of plans */

export const PARTS = /** @type {const} */ (["show", "chain", "print", "rules", "text", "versions"]);

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
