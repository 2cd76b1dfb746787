// @ts-check
// This page's seconds: they go on evenly whatever becomes of the device's clock, and do not stand still while the device sleeps.

/**
 * @typedef {object} DeviceClocks what a steady clock is made of, so that a test can stand in for it
 * @property {() => number} now_ms a monotonic clock; on some devices it stands still while they sleep
 * @property {() => number} wall_ms the device's own idea of the time: people and networks set it
 */

const STEP_MS = 200; // less is a clock that is being drawn right, not a jump: chosen, as the server has it

export class SteadyClock {
  /** @param {DeviceClocks} clocks */
  constructor(clocks) {
    this.clocks = clocks;
    this.slept_ms = 0;
    /** How far the device's clock was set while the page was open, in seconds. */
    this.stepped_s = 0;
    this.hid = false;
    this.ahead_ms = clocks.wall_ms() - clocks.now_ms();
  }

  /** Milliseconds from any zero. */
  now_ms() {
    this.#look();
    return this.clocks.now_ms() + this.slept_ms;
  }

  now_s() {
    return this.now_ms() / 1000;
  }

  /** The page was out of sight: only then can the device have slept. */
  hidden() {
    this.#look();
    this.hid = true;
  }

  /** The page is in sight again: a sleep ends here, and what the device's clock does from now on is no sleep. */
  seen() {
    this.#look();
    this.hid = false;
  }

  /**
   * The two clocks part where one was set or the other stood still. A device does not sleep in its reader's hand, and no
   * sleep puts a clock back: what is neither is a clock that was set, and the even one is believed.
   */
  #look() {
    const ahead_ms = this.clocks.wall_ms() - this.clocks.now_ms();
    const jump_ms = ahead_ms - this.ahead_ms;
    this.ahead_ms = ahead_ms;
    if (Math.abs(jump_ms) < STEP_MS) return;
    if (jump_ms > 0 && this.hid) this.slept_ms += jump_ms;
    else this.stepped_s += jump_ms / 1000;
    this.hid = false;
  }
}

/** The one clock of this page. */
export const steady = new SteadyClock({ now_ms: () => performance.now(), wall_ms: () => Date.now() });
