// @ts-check
// A list that is asked for again and again: one answer is out at a time, and silence is noticed.

import { Refusal } from "../debrief/debriefs.js";

/**
 * @template Answer
 * @typedef {object} Means
 * @property {() => Promise<Answer>} ask
 * @property {(answer: Answer) => void} told
 * @property {(error: unknown) => void} failed also where no answer came
 * @property {() => number} now_ms
 */

export const ASK_MS = 15_000; // how soon a changed plan is told: chosen
const LOST_MS = 2 * ASK_MS; // chosen: one answer may be missed

/** @template Answer */
export class Asking {
  /** @param {Means<Answer>} means */
  constructor(means) {
    this.means = means;
    /** When the server was last heard; at first when the page was opened. */
    this.heard_ms = means.now_ms();
    this.unheard = false;
    this.out = false;
    /** Which question is the latest. */
    this.latest = 0;
  }

  /** Whether the server is not heard: the last question got no answer, or none was asked for long. */
  get lost() {
    return this.unheard || this.means.now_ms() - this.heard_ms > LOST_MS;
  }

  /** Asks, unless an answer is still to come. */
  async again() {
    if (!this.out) await this.anew();
  }

  /** Asks at once, for something else than before: an answer to what was asked before is left. */
  async anew() {
    const own = ++this.latest;
    this.out = true;
    try {
      const answer = await this.means.ask();
      if (own !== this.latest) return;
      this.#heard(true);
      this.means.told(answer);
    } catch (error) {
      if (own !== this.latest) return;
      this.#heard(error instanceof Refusal && error.status !== 0);
      this.means.failed(error);
    } finally {
      if (own === this.latest) this.out = false;
    }
  }

  /** @param {boolean} heard */
  #heard(heard) {
    this.unheard = !heard;
    if (heard) this.heard_ms = this.means.now_ms();
  }
}
