// @ts-check
// A run gone through again: the moment that is looked at, how fast it goes on, and what is known of the run there.

import { runFrom } from "../live/views.js";

/**
 * @typedef {import("../wire.js").StateAt} StateAt
 * @typedef {import("../wire.js").Story["clock"]} KnownClock
 * @typedef {import("../wire.js").SpanInfo} Span
 */

/** How many times as fast as it was. */
export const SPEEDS = [1, 5, 20, 60, 300, 1000];

/** The moment that is looked at. Times of this computer are its monotonic clock in seconds, given by the caller. */
export class Playhead {
  /** @param {Span} span */
  constructor(span) {
    this.span = span;
    this.speed = 20;
    this.playing = false;
    this.#from = { at_s: span.from_s, real_s: 0 };
  }

  /** @type {{at_s: number, real_s: number}} */
  #from;

  /** The moment at a time of this computer: never outside of the run. @param {number} real_s */
  at(real_s) {
    if (!this.playing) return this.#from.at_s;
    return this.#within(this.#from.at_s + (real_s - this.#from.real_s) * this.speed);
  }

  /** Whether it has come to the end. @param {number} real_s */
  isOver(real_s) {
    return this.at(real_s) >= this.span.to_s;
  }

  /** @param {number} at_s @param {number} real_s */
  jump(at_s, real_s) {
    this.#from = { at_s: this.#within(at_s), real_s };
  }

  /** From the start again where it was at the end. @param {number} real_s */
  play(real_s) {
    this.jump(this.isOver(real_s) ? this.span.from_s : this.at(real_s), real_s);
    this.playing = true;
  }

  /** @param {number} real_s */
  pause(real_s) {
    this.jump(this.at(real_s), real_s);
    this.playing = false;
  }

  /** @param {number} speed @param {number} real_s */
  setSpeed(speed, real_s) {
    this.jump(this.at(real_s), real_s);
    this.speed = speed;
  }

  /** Another span: the run grew, or was corrected. @param {Span} span @param {number} real_s */
  setSpan(span, real_s) {
    const at_s = this.at(real_s);
    this.span = span;
    this.jump(at_s, real_s);
  }

  /** @param {number} at_s */
  #within(at_s) {
    return Math.min(Math.max(at_s, this.span.from_s), this.span.to_s);
  }
}

const KEPT = 600; // states, some 10 kB each: chosen

/** States that were asked for, each good from its instant until something changes by itself or something is observed. */
export class KnownStates {
  constructor() {
    /** @type {StateAt[]} by `at_s` */
    this.states = [];
  }

  /** @param {StateAt} state */
  keep(state) {
    const place = this.#placeAfter(state.at_s);
    const before = this.states[place - 1];
    if (before?.at_s === state.at_s) this.states[place - 1] = state;
    else this.states.splice(place, 0, state);
    if (this.states.length > KEPT) this.states.splice(place > KEPT / 2 ? 0 : this.states.length - 1, 1);
  }

  /** What holds at a moment, or null where that has to be asked. @param {number} at_s @returns {StateAt | null} */
  at(at_s) {
    const state = this.states[this.#placeAfter(at_s) - 1];
    if (!state) return null;
    return at_s === state.at_s || at_s < (state.next_s ?? Infinity) ? state : null;
  }

  /** How many states begin at or before a moment. @param {number} at_s */
  #placeAfter(at_s) {
    let [low, high] = [0, this.states.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((this.states[middle]?.at_s ?? Infinity) <= at_s) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}

/**
 * Gets what holds at the moment that is wanted: at once where it is known, else asked. One question at a time, and of those that wait
 * only the latest: a finger that scrubs asks faster than anybody answers. In between, what comes next is asked ahead.
 */
export class Seeker {
  /**
   * @param {(at_s: number) => Promise<StateAt>} ask
   * @param {(state: StateAt, at_s: number) => void} show
   * @param {(error: unknown) => void} fail
   */
  constructor(ask, show, fail) {
    this.ask = ask;
    this.show = show;
    this.fail = fail;
    this.known = new KnownStates();
    /** @type {number | null} */
    this.wanted_s = null;
    /** @type {number[]} */
    this.ahead = [];
    this.asking = false;
    this.life = 0;
  }

  /** Shows a moment, now or as soon as it is known. @param {number} at_s */
  seek(at_s) {
    this.ahead = [];
    const state = this.known.at(at_s);
    if (state) this.show(state, at_s);
    this.wanted_s = state ? null : at_s;
    void this.#askOn();
  }

  /** Asks for moments that are likely wanted next, while no other is. @param {number[]} ahead */
  prepare(ahead) {
    this.ahead = ahead;
    void this.#askOn();
  }

  /** What was known is not so any more: a correction, more events, the other clock. */
  forget() {
    this.known = new KnownStates();
    this.life += 1;
  }

  async #askOn() {
    if (this.asking) return;
    this.asking = true;
    for (let at_s = this.#next(); at_s !== null; at_s = this.#next()) await this.#askFor(at_s);
    this.asking = false;
  }

  /** @returns {number | null} */
  #next() {
    if (this.wanted_s !== null) return this.wanted_s;
    this.ahead = this.ahead.filter((at_s) => this.known.at(at_s) === null);
    return this.ahead.shift() ?? null;
  }

  /** @param {number} at_s */
  async #askFor(at_s) {
    const { life, wanted_s } = this;
    try {
      const state = await this.ask(at_s);
      if (life !== this.life) return;
      this.known.keep(state);
    } catch (error) {
      if (wanted_s === this.wanted_s) this.wanted_s = null;
      this.ahead = [];
      if (life === this.life) this.fail(error);
      return;
    }
    this.#showWanted(wanted_s);
  }

  /** Shows what is wanted if it is known now; else what was wanted when it was asked: a scrub is seen on its way. @param {number | null} asked_s */
  #showWanted(asked_s) {
    if (this.wanted_s === null) return;
    const state = this.known.at(this.wanted_s);
    if (state) {
      const at_s = this.wanted_s;
      this.wanted_s = null;
      this.show(state, at_s);
      return;
    }
    const passed = asked_s === null ? null : this.known.at(asked_s);
    if (passed && asked_s !== null) this.show(passed, asked_s);
  }
}

/** The state of a run as the wall's elements take it. @param {StateAt} state @param {import("../wire.js").RunInfo} info @returns {import("../live/store.js").RunState} */
export function runStateFrom({ view, last_seq }, info) {
  return { seq: last_seq ?? 0, epoch: "", fault: null, warnings: [], info, ...runFrom(view), events: [] };
}
