// @ts-check
// What changed in the lobby since its reader last looked, in words.

import { timeText } from "../words/format.js";

/**
 * @typedef {import("./lobby.js").HouseLine} HouseLine
 * @typedef {{state: HouseLine["state"], starts_ms: number | null, ends_ms: number | null}} Seen what was seen of a house
 * @typedef {{seen: Record<string, Seen>, noticed_ms: Record<string, number>}} Memory by house; `noticed_ms` since when a change is shown
 */

const MOVED_MS = 60_000; // less is the same time on a clock without seconds: chosen
const SHOWN_MS = 15 * 60_000; // on a television nobody touches, a change counts as seen after this: chosen

/** What a reader is told of a house that has become so; what it was before a start changes nothing. @type {Record<HouseLine["state"], string>} */
const BECAME = {
  before: "",
  soon: "",
  showing: "came on screen",
  dark: "the screen went dark",
  over: "the show ended",
  clear: "is clear now",
  stopped: "stopped",
  stands: "the picture stands",
  intermission: "intermission began",
};

/** Before anything was looked at. @returns {Memory} */
export function noMemory() {
  return { seen: {}, noticed_ms: {} };
}

/** The reader has looked at all of it. @param {HouseLine[]} lines @returns {Memory} */
export function looked(lines) {
  return { seen: Object.fromEntries(lines.map((line) => [line.key, seenOf(line)])), noticed_ms: {} };
}

/** The memory at a moment: what is new is seen, what is no longer there is forgotten, and what was shown long enough is seen. @param {Memory} memory @param {HouseLine[]} lines @param {number} now_ms @returns {Memory} */
export function memoryAt(memory, lines, now_ms) {
  const next = noMemory();
  for (const line of lines) {
    const seen = memory.seen[line.key] ?? seenOf(line);
    const since_ms = memory.noticed_ms[line.key] ?? now_ms;
    const changed = changeInWords(line, seen) !== "";
    next.seen[line.key] = changed && now_ms - since_ms >= SHOWN_MS ? seenOf(line) : seen;
    if (changed) next.noticed_ms[line.key] = since_ms;
  }
  return next;
}

/** What changed at a house, or an empty text. @param {HouseLine} line @param {Seen | undefined} seen */
export function changeInWords(line, seen) {
  if (!seen) return "";
  if (line.state !== seen.state && BECAME[line.state]) return BECAME[line.state];
  if (moved(line.ends_ms, seen.ends_ms) && line.state === "showing") return `was to let out ${clockOf(line, seen.ends_ms)}`;
  if (moved(line.starts_ms, seen.starts_ms) && (line.state === "before" || line.state === "soon")) return `was to start ${clockOf(line, seen.starts_ms)}`;
  return "";
}

/** @param {HouseLine} line @returns {Seen} */
function seenOf({ state, starts_ms, ends_ms }) {
  return { state, starts_ms: finite(starts_ms), ends_ms: finite(ends_ms) };
}

/** What can be written down: JSON has no infinity. @param {number} ms */
function finite(ms) {
  return Number.isFinite(ms) ? ms : null;
}

/** @param {number} now_ms @param {number | null} before_ms */
function moved(now_ms, before_ms) {
  return before_ms !== null && Number.isFinite(now_ms) && Math.abs(now_ms - before_ms) >= MOVED_MS;
}

/** @param {HouseLine} line @param {number | null} at_ms */
function clockOf({ clock, now_s }, at_ms) {
  return timeText(clock, ((at_ms ?? 0) - clock.zero_ms) / 1000, now_s);
}
