// @ts-check
// What the pages of one run have in common: find the run, follow it, and hand each moment to the desk.

import { Feed } from "./feed.js";
import { liveRuns, refusalFrom, runFromAddress, scheduleOf } from "./runs.js";

/**
 * @typedef {object} RunDesk what a desk of one run takes
 * @property {import("./store.js").RunState | null} state
 * @property {number} now_s the moment that is shown: the run's time, or when the server was last heard where it is lost
 * @property {() => number} timeAt the same, asked at any instant
 * @property {boolean} lost
 * @property {number} age_s for how long nothing was heard
 * @property {import("./connection.js").Refusal | null} refusal why the server does not speak to this desk
 * @property {string} trouble why there is nothing to show, or empty
 */

const MOMENT_MS = 250;
const AGAIN_MS = 2000; // between two tries to read what the server did not give: chosen

/**
 * Follows the run of the page's address, or the only one there is, with its schedule, and keeps the desk up to date;
 * gives which run that is.
 * @param {RunDesk & {schedule: Pick<import("../wire.js").ScheduleDocument, "stations"> | null}} desk
 */
export async function followRun(desk) {
  const run = await findRun(desk, chosenRun);
  followFeed(desk, new Feed(run, { onState: () => {} }));
  void until(
    () => scheduleOf(run),
    () => {},
  ).then((schedule) => (desk.schedule = schedule));
  return run;
}

/** The run that `choose` finds, however long it takes; the desk says meanwhile why there is none. @param {RunDesk} desk @param {() => Promise<string>} choose */
export function findRun(desk, choose) {
  return until(choose, (error) => {
    desk.trouble = error instanceof Error ? error.message : String(error);
    desk.refusal = refusalFrom(error);
  });
}

/** Opens a feed and hands its moments to the desk. @param {RunDesk} desk @param {Feed} feed */
export function followFeed(desk, feed) {
  const { handlers } = feed;
  feed.handlers = { ...handlers, onState: () => (showMoment(desk, feed), handlers.onState()) };
  desk.timeAt = () => shownTime(feed);
  showMoment(desk, feed);
  feed.open();
  setInterval(() => showMoment(desk, feed), MOMENT_MS);
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
  desk.refusal = feed.connection.refusal;
  if (feed.state) document.title = document.title.replace(/^.*(?= · Festoon$)/, feed.state.info.title);
}

/** The run that the page's address names, or the only live one; throws where that is not one. @returns {Promise<string>} */
export async function chosenRun() {
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
 * @template T @param {() => Promise<T>} get @param {(error: unknown) => void} told @returns {Promise<T>}
 */
async function until(get, told) {
  for (;;) {
    try {
      return await get();
    } catch (error) {
      told(error);
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }
}
