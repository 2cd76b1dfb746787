// @ts-check
// What the pages of one run have in common: find the run, follow it, and hand each moment to the desk.

import { Feed } from "./feed.js";
import { liveRuns, runFromAddress, scheduleOf } from "./runs.js";

/**
 * @typedef {object} RunDesk what a desk of one run takes
 * @property {import("./store.js").RunState | null} state
 * @property {import("./messages.js").Schedule | null} schedule
 * @property {number} now_s the moment that is shown: the run's time, or when the server was last heard where it is lost
 * @property {() => number} timeAt the same, asked at any instant
 * @property {boolean} lost
 * @property {number} age_s for how long nothing was heard
 * @property {string} trouble
 */

const MOMENT_MS = 250;
const AGAIN_MS = 2000; // between two tries to read what the server did not give: chosen

/**
 * Follows the run of the page's address, or the only one there is, and keeps the desk up to date; resolves with the feed.
 * @param {RunDesk} desk @param {Partial<import("./feed.js").FeedHandlers>} [handlers] @returns {Promise<Feed>}
 */
export async function followRun(desk, handlers = {}) {
  const run = await until(() => chosenRun(), (trouble) => (desk.trouble = trouble));
  const feed = new Feed(run, {
    ...handlers,
    onState: () => {
      showMoment(desk, feed);
      handlers.onState?.();
    },
  });
  desk.timeAt = () => shownTime(feed);
  feed.open();
  setInterval(() => showMoment(desk, feed), MOMENT_MS);
  void until(() => scheduleOf(run), () => {}).then((schedule) => (desk.schedule = schedule));
  return feed;
}

/** @param {Feed} feed */
function shownTime(feed) {
  return feed.isLost() ? feed.heard_s() : feed.now_s();
}

/** @param {RunDesk} desk @param {Feed} feed */
function showMoment(desk, feed) {
  desk.state = feed.state;
  desk.lost = feed.isLost();
  desk.now_s = shownTime(feed);
  desk.age_s = feed.connection.silent_ms() / 1000;
  if (feed.state) document.title = document.title.replace(/^.*(?= · Festoon$)/, feed.state.info.title);
}

/** @returns {Promise<string>} */
async function chosenRun() {
  const named = runFromAddress(location.search);
  if (named !== null) return named;
  const runs = await liveRuns();
  const [only] = runs;
  if (only && runs.length === 1) return only.run;
  if (!only) throw new Error("No run is live. Start one on the server with a plan: festoon serve PLAN.");
  throw new Error("Several runs are live: choose one.");
}

/**
 * Tries until it works; `told` gets why it did not.
 * @template T @param {() => Promise<T>} get @param {(why: string) => void} told @returns {Promise<T>}
 */
async function until(get, told) {
  for (;;) {
    try {
      return await get();
    } catch (error) {
      told(error instanceof Error ? error.message : String(error));
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }
}
