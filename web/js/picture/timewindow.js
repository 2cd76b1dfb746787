// @ts-check
// The part of a run that a chart shows: closer, wider, moved along; never outside of the whole, never nearer than a few seconds.

/** @typedef {[number, number]} TimeWindow from and to, in seconds */

const NEAREST_S = 10; // chosen: a pass is known to hundredths of a second, and a tenth is a pixel here

/** @param {TimeWindow} whole @returns {TimeWindow} */
function wide([from_s, to_s]) {
  return to_s - from_s >= NEAREST_S ? [from_s, to_s] : [from_s, from_s + NEAREST_S];
}

/** Closer (`factor` under 1) or wider about a moment that stays where it is. @param {TimeWindow} shown @param {number} factor @param {number} about_s @param {TimeWindow} whole @returns {TimeWindow} */
export function zoomed([from_s, to_s], factor, about_s, whole) {
  const [first_s, last_s] = wide(whole);
  const length_s = Math.min(Math.max((to_s - from_s) * factor, NEAREST_S), last_s - first_s);
  const share = to_s > from_s ? (about_s - from_s) / (to_s - from_s) : 0.5;
  return within([about_s - share * length_s, about_s + (1 - share) * length_s], [first_s, last_s]);
}

/** @param {TimeWindow} shown @param {number} by_s @param {TimeWindow} whole @returns {TimeWindow} */
export function moved([from_s, to_s], by_s, whole) {
  return within([from_s + by_s, to_s + by_s], wide(whole));
}

/** The window that shows a moment: the same where it does, else as long a one with the moment in its middle. @param {TimeWindow} shown @param {number} at_s @param {TimeWindow} whole @returns {TimeWindow} */
export function showing(shown, at_s, whole) {
  const [from_s, to_s] = shown;
  if (at_s >= from_s && at_s <= to_s) return shown;
  return moved(shown, at_s - (from_s + to_s) / 2, whole);
}

/** @param {TimeWindow} wanted @param {TimeWindow} whole @returns {TimeWindow} */
function within([from_s, to_s], [first_s, last_s]) {
  const length_s = to_s - from_s;
  const start_s = Math.min(Math.max(from_s, first_s), last_s - length_s);
  return [start_s, start_s + length_s];
}

/** How far apart the times under a chart stand, so that there is room for each. @param {number} length_s @param {number} room how many there is room for */
export function tickStep(length_s, room) {
  return [1, 2, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600].find((every_s) => length_s / every_s <= room) ?? 7200;
}
