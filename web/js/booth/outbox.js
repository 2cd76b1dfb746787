// @ts-check
// Sends this desk's taps, in their order and one at a time, with the same ids until each is answered. So a tap is taken once or not at all.

import { answered, confirmed, isEcho, movedBack, tapEvent, unsent, withTap } from "./taps.js";

/**
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {import("./taps.js").Observation} Observation
 * @typedef {import("./taps.js").Instant} Instant
 * @typedef {import("./taps.js").Tap} Tap
 * @typedef {object} TapKeeper where taps outlive the page
 * @property {(tap: Tap) => void} put
 * @property {(id: string) => void} drop
 */

const ECHO_S = 0.5; // a finger that bounces is quicker, one that means it again slower: chosen
const AGAIN_MS = 2000; // after the server said that it may be tried again: chosen

export class Outbox {
  /** @param {(event: ObservedEvent) => boolean} send @param {TapKeeper} keeper @param {() => void} onChange the taps are others */
  constructor(send, keeper, onChange) {
    this.send = send;
    this.keeper = keeper;
    this.onChange = onChange;
    /** @type {Tap[]} */
    this.taps = [];
    /** The tap that was sent and is not answered. @type {string | null} */
    this.underWay = null;
    this.resting = false;
    /** Taps that the server knows and has not written down: what comes after them goes out, then they are asked for again. @type {Set<string>} */
    this.known = new Set();
  }

  /** What an earlier page left, in its order: it comes before all that is tapped here. @param {Tap[]} taps */
  restore(taps) {
    const known = new Set(this.taps.map(({ event }) => event.id));
    this.taps = [...taps.filter(({ event }) => !known.has(event.id)), ...this.taps];
    this.onChange();
    this.#sendNext();
  }

  /** A tap, made now: it keeps this time however late it is sent. @param {Observation} what @param {string} zero @param {Instant} when @param {number} [speed] of the run's clock */
  tap(what, zero, when, speed = 1) {
    const event = tapEvent(what, zero, when);
    if (!isEcho(this.taps, event, ECHO_S * speed)) this.#add(event);
  }

  /** Takes one tap back, and says the same of `back_s` earlier. @param {ObservedEvent} event @param {number} back_s @param {string} zero @param {Instant} when now */
  move(event, back_s, zero, when) {
    const by = event.by ? { by: event.by } : {};
    this.#add(tapEvent({ kind: "retract", retracts: event.id, ...by }, zero, when));
    this.#add(movedBack(event, back_s));
  }

  /** Puts away a refused tap that was read. @param {string} id */
  dismiss(id) {
    this.keeper.drop(id);
    this.#become(this.taps.filter(({ event, state }) => event.id !== id || state !== "refused"));
  }

  /** The connection is there, at first or again: whatever was not answered goes out. */
  sendAll() {
    this.underWay = null;
    this.known.clear();
    this.#sendNext();
  }

  /** @param {import("../wire.js").TakenAnswer | import("../wire.js").RefusedAnswer} answer */
  hear(answer) {
    this.#become(answered(this.taps, answer));
    if (answer.id !== this.underWay) return;
    this.underWay = null;
    if (answer.type === "refused" && answer.known && answer.id !== null) this.known.add(answer.id);
    if (answer.type === "refused" && answer.again && !answer.known) this.#rest();
    else this.#sendNext();
  }

  /** The events of the run as they stand. @param {ObservedEvent[]} events */
  see(events) {
    const taps = confirmed(this.taps, events);
    if (taps !== this.taps) this.#become(taps);
  }

  /** @param {ObservedEvent} event */
  #add(event) {
    this.#become(withTap(this.taps, event));
    this.#sendNext();
  }

  /** What comes later waits as well: a tap may take back the one that could not be written. */
  #rest() {
    this.resting = true;
    setTimeout(() => {
      this.resting = false;
      this.known.clear();
      this.#sendNext();
    }, AGAIN_MS);
  }

  #sendNext() {
    if (this.underWay !== null || this.resting) return;
    const waiting = unsent(this.taps);
    const next = waiting.find(({ id }) => !this.known.has(id));
    if (next && this.send(next)) this.underWay = next.id;
    else if (!next && waiting.length > 0) this.#rest();
  }

  /** @param {Tap[]} taps */
  #become(taps) {
    const before = new Set(this.taps);
    for (const tap of taps) {
      if (before.has(tap)) continue;
      if (tap.state === "taken") this.keeper.drop(tap.event.id);
      else this.keeper.put(tap);
    }
    this.taps = taps;
    this.onChange();
  }
}
