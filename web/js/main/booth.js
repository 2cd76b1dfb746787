// @ts-check
// Wires the booth desk: one feed, one outbox, what the device keeps, and its loudspeaker and screen.

import "../booth/booth-desk.js";
import { Awake } from "../pages/awake.js";
import { Feed } from "../live/feed.js";
import { chosenRun, findRun, followFeed } from "../live/follow.js";
import { Kept, choice, choose } from "../booth/kept.js";
import { Outbox } from "../booth/outbox.js";
import { accountName } from "../live/runs.js";
import { keepShell } from "../pages/shell.js";
import { Caller, Sounder } from "../live/signals.js";
import { steady } from "../live/steady.js";
import { alarmsAnswered, isSpoken } from "../booth/taps.js";

const PICTURE_MS = 1000; // how often the picture is kept where it changed: chosen
const SAME_PICTURE_S = 10; // and where it did not, for its age and the time: chosen
const CALL_MS = 250;

const desk = /** @type {import("../booth/booth-desk.js").BoothDesk} */ (document.querySelector("booth-desk"));
const kept = new Kept(() => (desk.keepsTaps = false));

/** @param {string} name @param {(detail: any) => void} act */
function on(name, act) {
  desk.addEventListener(name, (event) => act(/** @type {CustomEvent} */ (event).detail));
}

/** What the reader chose at this device. */
function wireChoices() {
  desk.by = choice("by");
  desk.booth = choice("booth");
  desk.dark = choice("booth.theme") !== "device";
  on("named", (name) => choose("by", name));
  on("booth", (booth) => choose("booth", booth ?? ""));
  on("dark", (dark) => choose("booth.theme", dark ? "dark" : "device"));
}

/** Sound, vibration and a screen that stays on: all three want a touch first. @param {Outbox} outbox */
function wireSignals(outbox) {
  const sounder = new Sounder((state) => (desk.sound = state));
  const awake = new Awake((held) => (desk.awake = held));
  const caller = new Caller();
  const touched = () => {
    sounder.touched();
    void awake.hold();
  };
  desk.sound = sounder.state;
  for (const touch of ["click", "keydown"]) addEventListener(touch, touched, true); // not before: what moves under a finger is missed
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible") return steady.hidden();
    steady.seen();
    void awake.hold();
  });
  on("try", (level) => sounder.signal(level));
  void awake.hold();
  setInterval(() => {
    const level = caller.next(desk.alarmsThatSound(), alarmsAnswered(outbox.taps), steady.now_ms());
    if (level) sounder.signal(level);
  }, CALL_MS);
}

/** The picture outlives the page, with what was known of the time. @param {Feed} feed */
function keepPictures(feed) {
  /** @type {import("../booth/kept.js").KeptPicture | null} */
  let last = null;
  setInterval(() => {
    const wall_s = Date.now() / 1000;
    const offset = feed.clock.keep(steady.now_s(), wall_s);
    if (!feed.state || !offset || feed.isLost()) return;
    if (last?.state === feed.state && Math.abs(wall_s - last.wall_s) < SAME_PICTURE_S) return;
    last = { run: feed.run, state: feed.state, offset, wall_s: wall_s - feed.connection.silent_ms() / 1000 };
    void kept.putPicture(last);
  }, PICTURE_MS);
}

/** @param {Feed} feed @param {Outbox} outbox */
function wireTaps(feed, outbox) {
  const now = () => {
    if (!feed.state) return null;
    const { zero, speed, tap_lag_s: lag_s, tap_sigma_s } = feed.state.info;
    return { zero, speed, lag_s, t_s: feed.now_s(), sigma_s: Math.hypot(tap_sigma_s, feed.uncertainty_s()) };
  };
  on("observe", (what) => {
    const when = now();
    if (when) outbox.tap(what, when.zero, whenCounted(what, when), when.speed);
  });
  on("move", ({ event, back_s }) => {
    const when = now();
    if (when) outbox.move(event, back_s, when.zero, when);
  });
  on("dismiss", (id) => outbox.dismiss(id));
}

/**
 * The time to report: what people say, of an alarm too, is no late look at the film. With the lag taken off that is taken off
 * every tap it would come before an alarm that was raised just now, or before what was heard just then. @template {import("../booth/taps.js").Instant & {lag_s: number}} T
 * @param {import("../booth/taps.js").Observation} what @param {T} when @returns {T}
 */
function whenCounted(what, when) {
  return what.alarm || isSpoken(what.kind) ? { ...when, t_s: when.t_s + when.lag_s } : when;
}

wireChoices();
void keepShell((state) => (desk.shell = state));
void accountName().then(
  (name) => {
    desk.account = name;
    choose("account", name ?? "");
  },
  () => (desk.account = choice("account") || null),
);

const run = await findRun(desk, async () => {
  try {
    return await chosenRun();
  } catch (error) {
    const last = error instanceof TypeError ? await kept.picture(null) : null; // what fetch throws where there is no connection
    if (last) return last.run;
    throw error;
  }
});
const feed = new Feed(run, {
  onState: () => outbox.see(feed.state?.events ?? []),
  onOpen: () => outbox.sendAll(),
  onAnswer: (answer) => outbox.hear(answer),
});
/** @type {Outbox} */
const outbox = new Outbox(
  (event) => feed.sendEvent(event),
  { put: (tap) => void kept.putTap(run, tap), drop: (id) => void kept.dropTap(id) },
  () => (desk.taps = outbox.taps),
);
const [taps, picture] = await Promise.all([kept.taps(run), kept.picture(run)]);
if (picture) feed.restore(picture.state, picture.offset, picture.wall_s);
wireTaps(feed, outbox);
wireSignals(outbox);
keepPictures(feed);
followFeed(desk, feed);
outbox.restore(taps);
void kept.otherRuns(run).then((others) => (desk.otherRuns = others));
