// @ts-check
// The run's time, measured over the connection. Times of this computer are its monotonic clock in seconds, given by the caller.

const KEPT_SAMPLES = 8; // the clock filter of RFC 5905, 10, keeps as many

/**
 * How far the other clock is ahead, and how long the way there and back took (RFC 5905, 8).
 * Half the difference between the two ways is not seen: it stays in the offset.
 * @param {number} t1 question sent, by our clock @param {number} t2 question arrived, by the other
 * @param {number} t3 answer sent, by the other @param {number} t4 answer arrived, by ours
 */
export function offsetAndDelay(t1, t2, t3, t4) {
  return { offset_s: (t2 - t1 + (t3 - t4)) / 2, delay_s: t4 - t1 - (t3 - t2) };
}

/** The run's clock, which goes at `speed` run seconds a second. Of the last samples the one with the least delay is believed. */
export class RunClock {
  /** @param {number} speed */
  constructor(speed) {
    this.speed = speed;
    /** @type {{offset_s: number, delay_s: number}[]} */
    this.samples = [];
    /** @type {number | null} */
    this.rough_s = null;
  }

  /**
   * An answer to a time question. @param {number} sent_s @param {number} arrived_s @param {number} now_s the run's time in it
   */
  answer(sent_s, arrived_s, now_s) {
    const served_s = now_s / this.speed;
    this.samples.push(offsetAndDelay(sent_s, served_s, served_s, arrived_s));
    if (this.samples.length > KEPT_SAMPLES) this.samples.shift();
  }

  /** Any message that tells the run's time: good enough until the first answer. @param {number} arrived_s @param {number} now_s */
  told(arrived_s, now_s) {
    this.rough_s ??= now_s / this.speed - arrived_s;
  }

  /** Forgets all: the server is another one, or its clock was set. */
  forget() {
    this.samples = [];
    this.rough_s = null;
  }

  /** The run's time at our time `at_s`; 0 before anything was heard. @param {number} at_s */
  now_s(at_s) {
    const offset_s = this.offset_s();
    return offset_s === null ? 0 : (at_s + offset_s) * this.speed;
  }

  /** @returns {number | null} */
  offset_s() {
    if (this.samples.length === 0) return this.rough_s;
    return this.samples.reduce((best, sample) => (sample.delay_s < best.delay_s ? sample : best)).offset_s;
  }
}
