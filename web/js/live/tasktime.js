// @ts-check
// The one countdown of a task, the same on every desk: until it may be done, then until it must be.

/**
 * @typedef {Pick<import("../wire.js").Prompt, "kind" | "from_s" | "due_s">} Task
 * @typedef {{at_s: number, left_s: number, is: "in" | "left" | "over"}} TaskTime `in`: it may not be done yet
 */

/** To the opening of its window, then to its close; to the moment itself where it has no window. @param {Task} task @param {number} now_s @returns {TaskTime} */
export function taskTime({ kind, from_s, due_s }, now_s) {
  if (due_s < now_s) return { at_s: due_s, left_s: due_s - now_s, is: "over" };
  // Of a douser only the moment counts: it opens as the head comes to the gate.
  const from = kind === "open_douser" ? due_s : from_s;
  if (from > now_s) return { at_s: from, left_s: from - now_s, is: "in" };
  return { at_s: due_s, left_s: due_s - now_s, is: "left" };
}
