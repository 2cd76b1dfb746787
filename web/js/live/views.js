// @ts-check
// A view as the server gives it, and what of it a desk keeps.

/** @param {import("../wire.js").View} view */
export function runFrom({ stations, links, alarms, prompts, sources, hold_s, restart, reports }) {
  return { stations, links, alarms, prompts, sources, hold_s, restart, reports };
}
