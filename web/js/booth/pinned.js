// @ts-check
// What a runner must have in the hand: the next step, the first alarm, and the word that all motors stopped.

/**
 * @typedef {"alarm" | "step" | "stop"} Pin
 * @typedef {{top: number, bottom: number}} Extent
 */

const SEEN_PX = 56; // so much of a thing in view is a target that can be hit: chosen

/** What is out of reach and so is pinned: what is not there, or of which too little is in view. @param {Record<Pin, Extent | null>} places in pixels from the top of the screen @param {number} from what covers the screen above @param {number} to where what is pinned begins @returns {Pin[]} */
export function pinsFor(places, from, to) {
  const isInView = (/** @type {Extent | null} */ place) =>
    place !== null && Math.min(place.bottom, to) - Math.max(place.top, from) >= Math.min(SEEN_PX, place.bottom - place.top);
  return /** @type {Pin[]} */ (Object.keys(places)).filter((pin) => !isInView(places[/** @type {Pin} */ (pin)]));
}
