// @ts-check
// When to draw again: as often as the eye needs and the tablet can, not more.

const SLOW_DRAW_MS = 12; // a drawing that takes longer halves the rate: chosen
const STEP_PX = 1; // how far the film may go between two drawings without a jump being seen: chosen
const LEAST_MS = 32;
const MOST_MS = 500;

/** How long to wait between two drawings. @param {number} pixels_per_s of the fastest film @param {number} draw_ms what one drawing took @param {boolean} still the reader asked for less motion */
export function waitBetween(pixels_per_s, draw_ms, still) {
  if (still) return 2000;
  const wanted = pixels_per_s > 0 ? (STEP_PX / pixels_per_s) * 1000 : MOST_MS;
  const bearable = draw_ms > SLOW_DRAW_MS ? draw_ms * 8 : LEAST_MS;
  return Math.min(Math.max(wanted, bearable), MOST_MS);
}

/** Calls `draw` again and again while the page is seen; `wait` is asked after each for the milliseconds until the next. Between them no frame is asked for: each costs, drawn or not. */
export class Frames {
  /** @param {() => void} draw @param {(draw_ms: number) => number} wait */
  constructor(draw, wait) {
    this.draw = draw;
    this.wait = wait;
    /** @type {number | null} */
    this.request = null;
    /** @type {number | undefined} */
    this.timer = undefined;
  }

  start() {
    this.request ??= requestAnimationFrame(() => this.#frame());
  }

  stop() {
    if (this.request !== null) cancelAnimationFrame(this.request);
    clearTimeout(this.timer);
    this.request = null;
  }

  #frame() {
    const before_ms = performance.now();
    this.draw();
    this.timer = window.setTimeout(() => (this.request = requestAnimationFrame(() => this.#frame())), this.wait(performance.now() - before_ms));
  }
}
