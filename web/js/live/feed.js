// @ts-check
// One run as a page follows it: its connection, its state, its clock.

import { RunClock } from "./clock.js";
import { Connection, SILENT_MS } from "./connection.js";
import { liveAddress } from "./runs.js";
import { steady } from "./steady.js";
import { stateAfter } from "./store.js";

/**
 * @typedef {import("../wire.js").webhooks["live-to-desk"]["post"]["requestBody"]["content"]["application/json"]} ServerMessage
 * @typedef {import("../wire.js").TakenAnswer | import("../wire.js").RefusedAnswer} Answer
 * @typedef {object} FeedHandlers
 * @property {() => void} onState the state is another one
 * @property {(answer: Answer) => void} [onAnswer] the server answered an event
 * @property {() => void} [onOpen] the connection is there, at first or again
 */

const QUICK_QUESTIONS = 8; // the whole filter of the clock, at once
const QUICK_MS = 250;
const QUESTION_MS = 10_000; // chosen: crystals part by less than 1 ms in this time

/** Follows one run. Times are given in this computer's monotonic seconds. */
export class Feed {
  /** @param {string} run @param {FeedHandlers} handlers */
  constructor(run, handlers) {
    this.run = run;
    this.handlers = handlers;
    /** @type {import("./store.js").RunState | null} */
    this.state = null;
    this.clock = new RunClock(1);
    this.asked = 0;
    this.resume = true;
    this.connection = new Connection(() => liveAddress(run, this.resume ? this.state : null, location), {
      onMessage: (message) => this.#hear(message),
      onOpen: () => this.#opened(),
    });
  }

  open() {
    this.connection.open();
  }

  close() {
    this.connection.close();
  }

  /** The run's time, in seconds after its zero. */
  now_s() {
    return this.clock.now_s(steady.now_s());
  }

  /** How far `now_s` may be off, in seconds of the run. */
  uncertainty_s() {
    return this.clock.uncertainty_s(steady.now_s());
  }

  /** The run's time when the server was last heard. */
  heard_s() {
    return this.clock.now_s(this.connection.heard_ms / 1000);
  }

  isLost() {
    return this.connection.isLost();
  }

  /** Whether it went out. @param {import("../wire.js").ObservedEvent} event */
  sendEvent(event) {
    return this.connection.send({ type: "event", event });
  }

  #opened() {
    this.clock.hold(steady.now_s());
    this.asked = 0;
    this.#ask();
    this.handlers.onOpen?.();
  }

  /** Asks the time, quickly at first. */
  #ask() {
    if (!this.connection.send({ type: "time", c: steady.now_s() })) return;
    this.asked += 1;
    const socket = this.connection.socket;
    const wait_ms = this.asked < QUICK_QUESTIONS ? QUICK_MS : QUESTION_MS;
    setTimeout(() => socket === this.connection.socket && this.#ask(), wait_ms);
  }

  /** @param {ServerMessage} message */
  #hear(message) {
    const arrived_s = steady.now_s();
    switch (message.type) {
      case "time":
        if (typeof message.c === "number") this.clock.answer(message.c, arrived_s, message.now_s);
        return;
      case "taken":
      case "refused":
        this.handlers.onAnswer?.(message);
        return;
      case "snapshot":
      case "change":
      case "beat":
        this.#take(message, arrived_s);
    }
  }

  /**
   * The picture that an earlier page kept: shown as old, with its age, until the server is heard.
   * @param {import("./store.js").RunState} state @param {import("./clock.js").KeptOffset} offset @param {number} heard_wall_s the device's clock then
   */
  restore(state, offset, heard_wall_s) {
    const wall_s = Date.now() / 1000;
    this.state = state;
    this.resume = false;
    this.clock = new RunClock(state.info.speed);
    this.clock.restore(offset, steady.now_s(), wall_s);
    this.connection.heard_ms = steady.now_ms() - Math.max((wall_s - heard_wall_s) * 1000, SILENT_MS + 1);
  }

  /** A server that was started again may keep another time. @param {import("../wire.js").Snapshot} message @param {import("./store.js").RunState | null} before */
  #meet({ info, epoch }, before) {
    if (info.speed !== this.clock.speed) this.clock = new RunClock(info.speed);
    else if (before && before.epoch !== epoch) this.clock.forget();
  }

  /** @param {import("../wire.js").Snapshot | import("../wire.js").Change | import("../wire.js").Beat} message @param {number} arrived_s */
  #take(message, arrived_s) {
    const before = this.state;
    if (message.type === "snapshot") this.#meet(message, before);
    if (typeof message.now_s === "number") this.clock.told(arrived_s, message.now_s);
    const after = stateAfter(before, message);
    this.resume = after !== null;
    if (after === null) {
      this.connection.reopen();
      return;
    }
    this.state = after;
    if (after !== before) this.handlers.onState();
  }
}
