// @ts-check
// Groups of motors that stop together, changed.

import { setting } from "./view.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {import("./view.js").PlanView} PlanView
 */

/** A group of the first two houses that are in none; no edit where fewer are left. @param {PlanView} plan @returns {Edit[]} */
export function addStopGroup(plan) {
  const taken = new Set(groups(plan).flat());
  const free = ids(plan).filter((id) => !taken.has(id));
  if (free.length < 2) return [];
  return [{ do: "add", list: "stop_groups", at: plan.count("stop_groups"), values: { stations: free.slice(0, 2) } }];
}

/** A house that comes to a group or leaves it, in film order. @param {PlanView} plan @param {number} group @param {string} id @param {boolean} chosen @returns {Edit[]} */
export function stopsWith(plan, group, id, chosen) {
  const before = groups(plan)[group] ?? [];
  const after = ids(plan).filter((each) => (each === id ? chosen : before.includes(each)));
  return [setting(`stop_groups[${group}].stations`, after)];
}

/** @param {PlanView} plan */
function ids(plan) {
  return plan.houses().map((_, place) => plan.text(`stations[${place}].id`));
}

/** @param {PlanView} plan @returns {string[][]} */
function groups(plan) {
  return Array.from({ length: plan.count("stop_groups") }, (_, place) => {
    const named = plan.value(`stop_groups[${place}].stations`);
    return Array.isArray(named) ? named : [];
  });
}
