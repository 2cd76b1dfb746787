// @ts-check
// Sends this desk's taps, and again with the same ids until each is answered: a tap is taken once or not at all.

import { answered, confirmed, tapEvent, unsent, withTap } from "./taps.js";

/**
 * @typedef {import("./messages.js").ObservedEvent} ObservedEvent
 * @typedef {Omit<ObservedEvent, "id" | "t" | "source">} Observation
 */

const AGAIN_MS = 2000; // after the server said that it may be tried again: chosen

export class Outbox {
  /** @param {(event: ObservedEvent) => boolean} send @param {() => void} onChange the taps are others */
  constructor(send, onChange) {
    this.send = send;
    this.onChange = onChange;
    /** @type {import("./taps.js").Tap[]} */
    this.taps = [];
  }

  /** A tap, made now: it keeps this time however late it is sent. @param {Observation} what @param {string} zero @param {number} t_s the run's time */
  tap(what, zero, t_s) {
    const event = tapEvent(what, zero, t_s);
    this.#become(withTap(this.taps, event));
    this.send(event);
  }

  /** The connection is there, at first or again: whatever was not answered goes out. */
  sendAll() {
    for (const event of unsent(this.taps)) this.send(event);
  }

  /** @param {import("./messages.js").Taken | import("./messages.js").Refused} answer */
  hear(answer) {
    this.#become(answered(this.taps, answer));
    if (answer.type === "refused" && answer.again) setTimeout(() => this.sendAll(), AGAIN_MS);
  }

  /** The events of the run as they stand. @param {ObservedEvent[]} events */
  see(events) {
    const taps = confirmed(this.taps, events);
    if (taps !== this.taps) this.#become(taps);
  }

  /** @param {import("./taps.js").Tap[]} taps */
  #become(taps) {
    this.taps = taps;
    this.onChange();
  }
}
