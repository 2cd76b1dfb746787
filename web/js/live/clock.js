// @ts-check
// The run's time, measured over the connection. Times of this computer are its steady clock in seconds, given by the caller.

/**
 * @typedef {{offset_s: number, delay_s: number, at_s: number}} Sample how far the run's clock is ahead, measured at `at_s`
 * @typedef {{wall_offset_s: number, uncertainty_s: number, wall_s: number}} KeptOffset
 *   how far the run's clock was ahead of the device's own when that read `wall_s`: it outlives the page
 */

const KEPT_SAMPLES = 8; // the clock filter of RFC 5905, 10, keeps as many
const DRIFT = 15e-6; // what a clock is trusted to keep: PHI of RFC 5905, 7.2 (from memory)
const WALL_DRIFT = 100e-6; // and the clock of a device that nothing sets right: chosen
const ROUGH_S = 0.5; // how late a message may be that was not asked for: chosen

/**
 * How far the other clock is ahead, and how long the way there and back took (RFC 5905, 8).
 * Half the difference between the two ways is not seen: it stays in the offset.
 * @param {number} t1 question sent, by our clock @param {number} t2 question arrived, by the other
 * @param {number} t3 answer sent, by the other @param {number} t4 answer arrived, by ours
 */
export function offsetAndDelay(t1, t2, t3, t4) {
  return { offset_s: (t2 - t1 + (t3 - t4)) / 2, delay_s: t4 - t1 - (t3 - t2) };
}

/** How far a sample may be off at `at_s`: half its delay (RFC 5905, 11.1), and what the clocks parted since. @param {Sample} sample @param {number} at_s */
function doubt_s(sample, at_s) {
  return Math.max(sample.delay_s, 0) / 2 + DRIFT * Math.abs(at_s - sample.at_s);
}

/** The run's clock, which goes at `speed` run seconds a second. Of the last samples the least doubtful is believed. */
export class RunClock {
  /** @param {number} speed */
  constructor(speed) {
    this.speed = speed;
    /** @type {Sample[]} */
    this.samples = [];
    /** What an earlier connection or page measured, until this one has. @type {Sample | null} */
    this.held = null;
    /** @type {Sample | null} */
    this.rough = null;
  }

  /**
   * An answer to a time question. @param {number} sent_s @param {number} arrived_s @param {number} now_s the run's time in it
   */
  answer(sent_s, arrived_s, now_s) {
    const served_s = now_s / this.speed;
    this.samples.push({ ...offsetAndDelay(sent_s, served_s, served_s, arrived_s), at_s: arrived_s });
    if (this.samples.length > KEPT_SAMPLES) this.samples.shift();
  }

  /** Any message that tells the run's time: good enough until the first answer. @param {number} arrived_s @param {number} now_s */
  told(arrived_s, now_s) {
    this.rough ??= { offset_s: now_s / this.speed - arrived_s, delay_s: 2 * ROUGH_S, at_s: arrived_s };
  }

  /** A new connection measures anew; until it has, the last is good enough. @param {number} at_s */
  hold(at_s) {
    this.held = this.#best(at_s);
    this.samples = [];
    this.rough = null;
  }

  /** Forgets all: the server is another one. */
  forget() {
    this.samples = [];
    this.held = null;
    this.rough = null;
  }

  /** The run's time at our time `at_s`; 0 before anything was heard. @param {number} at_s */
  now_s(at_s) {
    const best = this.#best(at_s);
    return best === null ? 0 : (at_s + best.offset_s) * this.speed;
  }

  /** How far that may be off, in seconds of the run; Infinity before anything was heard. @param {number} at_s */
  uncertainty_s(at_s) {
    const best = this.#best(at_s);
    return best === null ? Infinity : doubt_s(best, at_s) * this.speed;
  }

  /** What to keep for a page that is loaded while the server is away. @param {number} at_s @param {number} wall_s the device's clock @returns {KeptOffset | null} */
  keep(at_s, wall_s) {
    const best = this.#best(at_s);
    return best && { wall_offset_s: best.offset_s + at_s - wall_s, uncertainty_s: doubt_s(best, at_s), wall_s };
  }

  /**
   * Goes on from what an earlier page kept. A device's clock that has gone back was set: by how much, nothing here knows.
   * @param {KeptOffset} kept @param {number} at_s @param {number} wall_s
   */
  restore(kept, at_s, wall_s) {
    const passed_s = wall_s - kept.wall_s;
    const parted_s = passed_s < 0 ? -passed_s : WALL_DRIFT * passed_s;
    this.held = { offset_s: kept.wall_offset_s + wall_s - at_s, delay_s: 2 * (kept.uncertainty_s + parted_s), at_s };
  }

  /** @param {number} at_s @returns {Sample | null} */
  #best(at_s) {
    if (this.samples.length === 0) return this.held ?? this.rough;
    return this.samples.reduce((best, sample) => (doubt_s(sample, at_s) <= doubt_s(best, at_s) ? sample : best));
  }
}
