// @ts-check
// Events of a desk that holds no websocket of its own to send them by: one at a time, each posted until it is answered.

/**
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {import("../wire.js").TakenAnswer | import("../wire.js").RefusedAnswer} Answer
 * @typedef {object} Network what posting needs of the browser, so that a test can stand in for it
 * @property {(address: string, text: string, patience_ms: number) => Promise<{status: number, body: unknown}>} post rejects where no answer comes
 * @property {(ms: number, act: () => void) => unknown} after
 */

const PATIENCE_MS = 8000; // a stalled network answers nothing and refuses nothing: chosen
const AGAIN_MS = 2000; // chosen
const UNPAIRED = 401;
const FAULTY = 500; // from here on it is the server's own trouble: it may be asked again

/** @type {Network} */
export const browser = {
  post: async (address, text, patience_ms) => {
    const giveUp = new AbortController();
    const timer = setTimeout(() => giveUp.abort(), patience_ms);
    try {
      const headers = { "content-type": "application/json" };
      const response = await fetch(address, { method: "POST", headers, body: text, credentials: "same-origin", signal: giveUp.signal });
      return { status: response.status, body: await response.json() };
    } finally {
      clearTimeout(timer);
    }
  },
  after: (ms, act) => setTimeout(act, ms),
};

export class Post {
  /** @param {string} run @param {{onAnswer: (answer: Answer) => void, onAgain: () => void}} handlers `onAgain`: what was not answered may be sent again @param {Network} network */
  constructor(run, handlers, network = browser) {
    this.address = `/api/runs/${encodeURIComponent(run)}/events`;
    this.handlers = handlers;
    this.network = network;
    this.underWay = false;
  }

  /** Whether it is on its way; false while another is. @param {ObservedEvent} event */
  send(event) {
    if (this.underWay) return false;
    this.underWay = true;
    void this.#post(event);
    return true;
  }

  /** @param {ObservedEvent} event */
  async #post(event) {
    /** @type {Answer | null} */
    let answer = null;
    try {
      answer = answerFrom(await this.network.post(this.address, JSON.stringify(event), PATIENCE_MS), event.id);
    } catch {
      // No answer: it may have been taken, or not; sent again it is the same event.
    }
    this.underWay = false;
    if (answer) this.handlers.onAnswer(answer);
    else this.network.after(AGAIN_MS, () => this.handlers.onAgain());
  }
}

/** What the server says of an event; null where it says nothing of it, and it is to be sent again. @param {{status: number, body: any}} response @param {string} id @returns {Answer | null} */
export function answerFrom({ status, body }, id) {
  if (body?.id === id && (body.type === "taken" || body.type === "refused")) return body;
  if (status === UNPAIRED || status >= FAULTY || typeof body?.reason !== "string") return null;
  return { type: "refused", id, reason: body.reason, again: false };
}
