// @ts-check
// The one countdown of a task, the same on every desk: until it may be done, then until it must be.

/**
 * @typedef {Pick<import("./messages.js").Prompt, "kind" | "from_s" | "due_s">} Task
 * @typedef {{at_s: number, left_s: number, is: "in" | "left" | "over"}} TaskTime `in`: it may not be done yet
 */

/** Kinds of which only the moment itself counts: a douser opens as the head comes to the gate. */
const OF_A_MOMENT = new Set(["start", "open_douser"]);

/** To the opening of its window, then to its close; to the moment itself where it has no window. @param {Task} task @param {number} now_s @returns {TaskTime} */
export function taskTime({ kind, from_s, due_s }, now_s) {
  if (due_s < now_s) return { at_s: due_s, left_s: due_s - now_s, is: "over" };
  if (OF_A_MOMENT.has(kind) || from_s > now_s) {
    const at_s = OF_A_MOMENT.has(kind) ? due_s : from_s;
    return { at_s, left_s: at_s - now_s, is: "in" };
  }
  return { at_s: due_s, left_s: due_s - now_s, is: "left" };
}
