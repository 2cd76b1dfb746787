// @ts-check
// The websocket of one run: opened again whenever it is lost or goes silent, at the place where it was.

import { steady } from "./steady.js";

/**
 * @typedef {import("../wire.js").webhooks["live-to-desk"]["post"]["requestBody"]["content"]["application/json"]} ServerMessage
 * @typedef {"unpaired" | "withdrawn" | "no run"} Refusal why the server does not speak to this desk
 * @typedef {object} Surroundings what a connection needs of the browser, so that a test can stand in for it
 * @property {(url: string) => WebSocket} open
 * @property {() => number} now_ms a monotonic clock
 * @property {(ms: number, act: () => void) => number} after
 * @property {(timer: number) => void} cancel
 * @property {() => number} random from 0 to 1
 */

export const SILENT_MS = 3000; // without any message for this long what is shown is old: the server beats once a second
const GIVE_UP_MS = 5000; // a silent socket, or one that does not open, is dropped after this: chosen
const FIRST_WAIT_MS = 250; // chosen
const LONGEST_WAIT_MS = 5000; // chosen

/** Close codes of the server, from the range for private use (RFC 6455, 7.4.2). @type {Record<number, Refusal>} */
const REFUSALS = { 4401: "unpaired", 4403: "withdrawn", 4404: "no run" };

/** @type {Surroundings} */
export const browser = {
  open: (url) => new WebSocket(url),
  now_ms: () => steady.now_ms(),
  after: (ms, act) => window.setTimeout(act, ms),
  cancel: (timer) => window.clearTimeout(timer),
  random: () => Math.random(),
};

/** Keeps one websocket going. `onMessage` gets every message and `onOpen` every opening; what is not a message is dropped. */
export class Connection {
  /**
   * @param {() => string} url where to open it next: it says what was heard last
   * @param {{onMessage: (message: ServerMessage) => void, onOpen: () => void}} handlers
   * @param {Surroundings} surroundings
   */
  constructor(url, handlers, surroundings = browser) {
    this.url = url;
    this.handlers = handlers;
    this.surroundings = surroundings;
    /** @type {WebSocket | null} */
    this.socket = null;
    this.heard_ms = surroundings.now_ms();
    this.failures = 0;
    /** @type {Refusal | null} */
    this.refusal = null;
    /** @type {number | null} */
    this.timer = null;
  }

  /** How long nothing was heard. */
  silent_ms() {
    return this.surroundings.now_ms() - this.heard_ms;
  }

  isLost() {
    return this.silent_ms() > SILENT_MS;
  }

  open() {
    const { surroundings } = this;
    const socket = surroundings.open(this.url());
    this.socket = socket;
    socket.onopen = () => this.handlers.onOpen();
    socket.onmessage = ({ data }) => socket === this.socket && this.#hear(data);
    socket.onclose = ({ code }) => socket === this.socket && this.#closed(code);
    this.#watch(socket, surroundings.now_ms());
  }

  /** Whether it went out: nothing is kept for later here. @param {import("../wire.js").webhooks["live-from-desk"]["post"]["requestBody"]["content"]["application/json"]} message */
  send(message) {
    if (this.socket?.readyState !== 1) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  /** Drops the socket and opens another at once: the place where it was is no longer any use. */
  reopen() {
    this.#drop();
    this.open();
  }

  close() {
    this.#drop();
    if (this.timer !== null) this.surroundings.cancel(this.timer);
  }

  /** @param {unknown} data */
  #hear(data) {
    const message = messageFrom(data);
    if (!message) return;
    this.heard_ms = this.surroundings.now_ms();
    this.failures = 0;
    this.refusal = null;
    this.handlers.onMessage(message);
  }

  /** A desk that is turned away asks again: it may be paired meanwhile. @param {number} code */
  #closed(code) {
    this.refusal = REFUSALS[code] ?? this.refusal;
    this.#openLater();
  }

  /** A stalled network closes nothing: silence is noticed here. @param {WebSocket} socket @param {number} opened_ms */
  #watch(socket, opened_ms) {
    const { surroundings } = this;
    this.#later(GIVE_UP_MS / 5, () => {
      if (socket !== this.socket) return;
      const silent_ms = surroundings.now_ms() - Math.max(this.heard_ms, opened_ms);
      if (silent_ms < GIVE_UP_MS) this.#watch(socket, opened_ms);
      else this.#openLater();
    });
  }

  #openLater() {
    this.#drop();
    const wait_ms = Math.min(FIRST_WAIT_MS * 2 ** this.failures, LONGEST_WAIT_MS);
    this.failures += 1;
    this.#later(wait_ms * (0.8 + 0.4 * this.surroundings.random()), () => this.open());
  }

  /** @param {number} ms @param {() => void} act */
  #later(ms, act) {
    if (this.timer !== null) this.surroundings.cancel(this.timer);
    this.timer = this.surroundings.after(ms, act);
  }

  #drop() {
    const socket = this.socket;
    this.socket = null;
    socket?.close();
  }
}

/** @param {unknown} data @returns {ServerMessage | null} */
function messageFrom(data) {
  if (typeof data !== "string") return null;
  try {
    const message = JSON.parse(data);
    return typeof message?.type === "string" ? message : null;
  } catch {
    return null;
  }
}
