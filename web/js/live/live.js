// @ts-check
// Every live run, as a page follows them: the server's list, and a feed for each run of it.

import { SILENT_MS } from "./connection.js";
import { Feed } from "./feed.js";
import { liveRuns, refusalFrom, scheduleOf } from "./runs.js";
import { steady } from "./steady.js";

/**
 * @typedef {object} FollowedRun
 * @property {import("../wire.js").RunLine} line
 * @property {import("./store.js").RunState | null} state null until it is known
 * @property {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} schedule null until it is known
 * @property {number} now_s the run's time, or when the server was last heard where it is lost
 *
 * @typedef {object} RunsDesk what a desk of every run takes
 * @property {FollowedRun[] | null} runs in the server's order; null until the list is known
 * @property {boolean} lost
 * @property {number} age_s for how long nothing was heard, of any one of them
 * @property {import("./connection.js").Refusal | null} refusal why the server does not speak to this desk
 *
 * @typedef {object} Followed
 * @property {import("../wire.js").RunLine} line
 * @property {Feed} feed
 * @property {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} schedule
 */

const MOMENT_MS = 250;
const LIST_MS = 5000; // a server that was started again may have other runs: chosen

/** Follows every live run, and keeps the desk up to date. @param {RunsDesk} desk */
export function followRuns(desk) {
  const runs = new LiveRuns();
  const show = () => showMoment(desk, runs);
  const list = async () => {
    await runs.list();
    show();
    setTimeout(list, LIST_MS);
  };
  setInterval(show, MOMENT_MS);
  void list();
}

/** The runs of the server's list, each followed while it is on it. */
class LiveRuns {
  constructor() {
    /** @type {Followed[] | null} */
    this.followed = null;
    /** @type {import("./connection.js").Refusal | null} */
    this.refusal = null;
    this.listed_ms = steady.now_ms();
  }

  /** Reads the list again; what the server does not give stays as it was. */
  async list() {
    try {
      this.#take(await liveRuns());
      this.refusal = null;
      this.listed_ms = steady.now_ms();
      await Promise.all((this.followed ?? []).map(withSchedule));
    } catch (error) {
      this.refusal = refusalFrom(error); // the age of what was heard tells the rest
    }
  }

  /** For how long nothing was heard: of the run that has been silent longest, or of the list where there is none. */
  silent_ms() {
    if (!this.followed?.length) return steady.now_ms() - this.listed_ms;
    return Math.max(...this.followed.map(({ feed }) => feed.connection.silent_ms()));
  }

  isLost() {
    return this.silent_ms() > (this.followed?.length ? SILENT_MS : SILENT_MS + LIST_MS);
  }

  /** @param {import("../wire.js").RunLine[]} lines */
  #take(lines) {
    const known = new Map(this.followed?.map((each) => [each.line.run, each]));
    this.followed = lines.map((line) => {
      const kept = known.get(line.run);
      known.delete(line.run);
      return kept ?? followed(line);
    });
    for (const { feed } of known.values()) feed.close();
  }
}

/** @param {import("../wire.js").RunLine} line @returns {Followed} */
function followed(line) {
  const feed = new Feed(line.run, { onState: () => {} });
  feed.open();
  return { line, feed, schedule: null };
}

/** @param {Followed} each */
async function withSchedule(each) {
  each.schedule ??= await scheduleOf(each.line.run);
}

/** @param {RunsDesk} desk @param {LiveRuns} runs */
function showMoment(desk, runs) {
  desk.lost = runs.isLost();
  desk.age_s = runs.silent_ms() / 1000;
  desk.refusal = runs.refusal;
  desk.runs =
    runs.followed?.map(({ line, feed, schedule }) => ({
      line,
      schedule,
      state: feed.state,
      now_s: desk.lost ? feed.heard_s() : feed.now_s(),
    })) ?? null;
}
