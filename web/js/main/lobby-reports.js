// @ts-check
// Reports of a lobby desk: an outbox for each live run, what the device keeps of them, and the run's time without a connection.

import { Kept, choice, choose } from "../booth/kept.js";
import { Outbox } from "../booth/outbox.js";
import { Post } from "../live/post.js";
import { mineOf } from "../lobby/reports.js";
import { steady } from "../live/steady.js";

/**
 * @typedef {import("../live/live.js").FollowedRun} FollowedRun
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {import("../booth/taps.js").Observation} Observation
 * @typedef {{run: string, event: ObservedEvent}} Sent a report that the server has, or what took one back
 * @typedef {{now_s: number, at_s: number}} Heard the run's time, and this page's own then
 */

const SENT = "lobby.reports";
const SENT_KEPT = 30; // of a long evening in several houses: chosen

export class Reporting {
  /** @param {string | null} by for whom the device is paired @param {() => void} onChange */
  constructor(by, onChange) {
    this.by = by;
    this.onChange = onChange;
    this.kept = new Kept(() => {});
    /** @type {Map<string, Outbox>} */
    this.outboxes = new Map();
    /** @type {Map<string, Heard>} */
    this.heard = new Map();
    /** @type {Map<string, import("../wire.js").RunInfo>} */
    this.infos = new Map();
    this.sent = sentFrom(choice(SENT));
  }

  /** The runs of a moment: their time, and the events that they have. @param {FollowedRun[]} runs @param {boolean} lost */
  see(runs, lost) {
    for (const { state, now_s } of runs) {
      if (!state) continue;
      const { run } = state.info;
      this.infos.set(run, state.info);
      if (!lost || !this.heard.has(run)) this.heard.set(run, { now_s, at_s: steady.now_s() });
      this.#outbox(run).see(state.events);
    }
  }

  /** Says something of a run now. @param {string} run @param {Observation} what */
  say(run, what) {
    const [info, heard] = [this.infos.get(run), this.heard.get(run)];
    if (!info || !heard) return;
    const t_s = heard.now_s + (steady.now_s() - heard.at_s) * info.speed;
    this.#outbox(run).tap(this.by ? { ...what, by: this.by } : what, info.zero, { t_s, sigma_s: info.tap_sigma_s }, info.speed);
  }

  /** Puts away what was refused. @param {string} run @param {string} id */
  dismiss(run, id) {
    this.#outbox(run).dismiss(id);
  }

  /** @returns {import("../lobby/reports.js").Mine} */
  mine() {
    const runs = [...this.outboxes];
    return Object.fromEntries(
      runs.map(([run, { taps }]) => [
        run,
        mineOf(
          this.sent.flatMap((sent) => (sent.run === run ? [sent.event] : [])),
          taps,
        ),
      ]),
    );
  }

  /** @param {string} run */
  #outbox(run) {
    const known = this.outboxes.get(run);
    if (known) return known;
    const post = new Post(run, { onAnswer: (answer) => outbox.hear(answer), onAgain: () => outbox.sendAll() });
    const outbox = new Outbox(
      (event) => post.send(event),
      { put: (tap) => void this.kept.putTap(run, tap), drop: (id) => void this.kept.dropTap(id) },
      () => this.#changed(run, outbox),
    );
    this.outboxes.set(run, outbox);
    void this.kept.taps(run).then((taps) => outbox.restore(taps.filter(({ event: { kind } }) => kind === "report" || kind === "retract")));
    return outbox;
  }

  /** What the server has now outlives the page: it can be taken back later. @param {string} run @param {Outbox} outbox */
  #changed(run, outbox) {
    const known = new Set(this.sent.map(({ event }) => event.id));
    const taken = outbox.taps.filter(({ state, event }) => state === "taken" && !known.has(event.id));
    if (taken.length) {
      this.sent = [...this.sent, ...taken.map(({ event }) => ({ run, event }))].slice(-SENT_KEPT);
      choose(SENT, JSON.stringify(this.sent));
    }
    this.onChange();
  }
}

/** @param {string | null} text @returns {Sent[]} */
function sentFrom(text) {
  try {
    const sent = JSON.parse(text ?? "[]");
    return Array.isArray(sent) ? sent : [];
  } catch {
    return [];
  }
}
