// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { boardFrom, saidText, wordsOf, wordsOfAlike } from "../../../web/js/live/alarms.js";
import { headlineIfKnown, headlineOf, recovering } from "../../../web/js/live/headline.js";
import { nextAt } from "../../../web/js/live/next.js";
import { pinsFor } from "../../../web/js/booth/pinned.js";
import { restText, restTextIn } from "../../../web/js/live/quiet.js";
import { askedOf } from "../../../web/js/live/ready.js";
import { standOf } from "../../../web/js/live/restart.js";
import { taskTime } from "../../../web/js/live/tasktime.js";
import { alarm, restartCard, runState, snapshot, station } from "../shows.js";

const tight = (/** @type {object} */ given = {}) =>
  alarm({
    key: "slack_tight:h3>h5",
    kind: "slack_tight",
    subject: "h3>h5",
    level: "watch",
    text: "House 3 to 5: the film is running tight",
    todo: "Go to this link, and keep your hands off the film. Be ready to stop the chain before it is taut.",
    ...given,
  });

const strike = {
  key: "strike h3",
  kind: /** @type {const} */ ("strike"),
  station: "h3",
  from_s: 50,
  due_s: 125,
  text: "House 3: strike the lamp",
  until_s: null,
  mark: null,
};

test("nothing to do never stands beside something to do, and what is set aside is never nothing wrong", () => {
  const states = {
    act: runState({ alarms: [alarm()] }),
    watch: runState({ alarms: [tight()] }),
    acknowledged: runState({ alarms: [tight({ state: "acknowledged" })] }),
    shelved: runState({ alarms: [tight({ shelved_until_s: 900 })] }),
    heat: runState({ alarms: [alarm({ kind: "film_heat", key: "film_heat:h3" })] }),
  };
  for (const [name, state] of Object.entries(states)) {
    for (const said of [headlineOf(state, 100).text, restText(state, 100), restTextIn("North", { ...state, prompts: [strike] }, 100)]) {
      assert.doesNotMatch(said, /nothing/i, `${name}: ${said}`);
    }
  }
  assert.deepEqual(headlineOf(states.watch, 100), { kind: "watch", text: "3 to 5: the film is running tight" });
  assert.deepEqual(headlineOf(states.shelved, 100), { kind: "shelved", text: "3 to 5: the film is running tight (shelved until 7:05)" });
  assert.equal(restText(states.shelved, 100), "Look again by 7:05: 3 to 5");
});

test("a desk that has lost its server calls nothing well, and goes on saying what was wrong", () => {
  assert.equal(headlineIfKnown(runState(), 100, true), null);
  assert.equal(headlineIfKnown(runState(), 100, false)?.kind, "calm");
  assert.equal(headlineIfKnown(runState({ alarms: [alarm()] }), 100, true)?.kind, "act");
});

test("the headline has the worst, and how many more there are", () => {
  const others = ["h5", "h3"].map((subject) =>
    alarm({ key: `lamp_lost:${subject}`, kind: "lamp_lost", subject, since_s: 1, text: `House ${subject.slice(1)}: the lamp went out` }),
  );
  const { kind, text } = headlineOf(runState({ alarms: [tight(), ...others] }), 100);
  assert.deepEqual([kind, text], ["act", "House 3: the lamp went out, and two more"]);
  assert.equal(headlineOf(runState({ alarms: [tight({ level: "note" })] }), 100).kind, "calm");
});

test("what came at once is told in the order in which it is asked for", () => {
  const out = (/** @type {string} */ subject, /** @type {number} */ since_s) =>
    alarm({ key: `lamp_lost:${subject}`, kind: "lamp_lost", subject, since_s, text: `House ${subject.slice(1)}: the lamp went out` });
  const prompts = ["h3", "h5"].map((asked, place) => ({ ...strike, key: `strike ${asked}`, station: asked, due_s: 50 + place }));
  const first = (/** @type {number} */ apart_s) => headlineOf(runState({ alarms: [out("h5", 50), out("h3", 50 + apart_s)], prompts }), 100).text;
  assert.equal(first(1), "House 3: the lamp went out, and one more");
  assert.equal(first(20), "House 5: the lamp went out, and one more", "what came first is worst");
});

test("slack that comes back says so where it is set aside too", () => {
  /** @type {import("../../../web/js/wire.js").Link[]} */
  const links = [{ id: "h3>h5", at_s: 100, slack_s: -0.8, drift: 0.001, slack_var: [0.01, 0, 1e-8, 0], reserve_s: 2, gone_s: null }];
  const { text } = headlineOf(runState({ links, alarms: [tight({ shelved_until_s: 900 })] }), 100);
  assert.equal(text, "3 to 5: the film is running tight, and recovers (shelved until 7:05)");
});

test("before the start as many things are missing in the headline as on its card", () => {
  const waiting = station({ phase: "threaded", running: false, rate: 0, started_s: null });
  const restart = {
    ...restartCard(),
    before: /** @type {const} */ ("start"),
    start_s: 600,
    stations: [
      {
        station: "h3",
        ready_s: null,
        ready_by: null,
        missing: /** @type {import("../../../web/js/wire.js").StationReady["missing"][number][]} */ (["ready", "douser_shut"]),
      },
    ],
    links: [],
  };
  const state = runState({ stations: [waiting, { ...waiting, id: "h5" }], restart });
  assert.equal(headlineOf(state, 0).text, "The chain stands, threaded: one thing missing");
  assert.equal(standOf(askedOf(restart), 0).text, "One thing missing");
});

test("what is set aside is said by that which comes back first, on every line alike", () => {
  const alarms = [
    ["h3>h5", 2400],
    ["h5>h8", 300],
  ].map(([subject, shelved_until_s]) =>
    tight({ key: `slack_tight:${subject}`, subject, shelved_until_s, text: `House ${subject === "h3>h5" ? "3 to 5" : "5 to 8"}: the film is running tight` }),
  );
  const state = runState({ alarms });
  assert.equal(headlineOf(state, 100).text, "5 to 8 and one more, still on: shelved until 6:55");
  assert.equal(restText(state, 100), "Look again by 6:55: 5 to 8");
});

test("a douser is asked for when its moment has come, by the countdown that every desk has", () => {
  const douser = { ...strike, kind: /** @type {const} */ ("open_douser"), text: "House 3: open the douser" };
  const state = runState({ prompts: [douser] });
  assert.deepEqual(
    [60, 125, 130].map((now_s) => headlineOf(state, now_s).kind),
    ["calm", "do", "do"],
  );
});

test("what is asked for at this moment is the headline of a show in which nothing is wrong", () => {
  const state = runState({ prompts: [strike] });
  assert.deepEqual(
    [49, 60, 130].map((now_s) => headlineOf(state, now_s).text),
    ["Nothing wrong: two motors running", "House 3: strike the lamp", "House 3: strike the lamp, late"],
  );
});

test("a chain that waits for its start is not called well while something is missing", () => {
  const waiting = ["h3", "h5"].map((id) => station({ id, phase: "threaded", running: false, started_s: null }));
  const restart = { ...restartCard(), before: /** @type {const} */ ("start") };
  assert.equal(headlineOf(runState({ stations: waiting, restart }), -60).text, "The chain stands, threaded: three things missing");
});

test("a chain that stands says so even where an alarm of it is shelved", () => {
  const stopped = ["h3", "h5"].map((id) => station({ id, phase: "stopped", running: false, stopped_s: 90, started_s: 0 }));
  const state = runState({ stations: stopped, restart: restartCard(), alarms: [tight({ shelved_until_s: 900 })] });
  assert.equal(headlineOf(state, 100).kind, "stands");
});

test("slack that comes back says so, and asks for somebody all the same", () => {
  /** @type {import("../../../web/js/wire.js").Link[]} */
  const links = snapshot().view.links.map((link) => ({ ...link, at_s: 100, slack_s: -1.2, drift: 4e-4, slack_var: [0.01, 0, 1e-8, 0] }));
  const back = runState({ alarms: [tight()], links });
  assert.equal(headlineOf(back, 100).text, "3 to 5: the film is running tight, and recovers");
  assert.equal(wordsOf(tight(), true)[0], "3 to 5: stay by it, be ready to stop");
  assert.deepEqual([...recovering({ ...back, links: links.map((link) => ({ ...link, drift: -4e-4 })) }, 100)], []);
  /** @type {import("../../../web/js/wire.js").Link[]} */
  const unsure = links.map((link) => ({ ...link, slack_var: [0.01, 0, 25e-8, 0] }));
  assert.deepEqual([...recovering({ ...back, links: unsure }, 100)], []);
});

test("the place comes before the verb, and no id or path is said", () => {
  assert.deepEqual(wordsOf(tight()), ["3 to 5: go to it, be ready to stop", "The film is running tight. Keep your hands off the film."]);
  const lamps = ["3", "5"].map((house) => alarm({ kind: "lamp_lost", text: `House ${house}: the lamp went out`, todo: "Douser shut; strike again." }));
  assert.equal(wordsOfAlike(lamps), "House 3, House 5: douser shut; strike again.");
  const silent = alarm({
    kind: "feed_silent",
    subject: "contact:east",
    text: "Contacts east: nothing is known from this source (cannot open ttyUSB0)",
    todo: "Check its cable and power.",
  });
  assert.equal(saidText(silent), "Contacts east: nothing is known from this source (cannot open ttyUSB0)");
  assert.equal(wordsOf(silent)[0], "Contacts east: check its cable and power.");
});

test("one task has one countdown: to its window, then to its close, and for a douser to the head", () => {
  assert.deepEqual(
    [10, 60, 130].map((now_s) => taskTime(strike, now_s)),
    [
      { at_s: 50, left_s: 40, is: "in" },
      { at_s: 125, left_s: 65, is: "left" },
      { at_s: 125, left_s: -5, is: "over" },
    ],
  );
  const douser = { ...strike, kind: /** @type {const} */ ("open_douser") };
  assert.deepEqual(
    [10, 60].map((now_s) => taskTime(douser, now_s).at_s),
    [125, 125],
  );
  for (const now_s of [10, 60, 130]) assert.equal(nextAt(station(), douser, null, now_s)?.at_s, taskTime(douser, now_s).at_s);
});

test("what went off by itself is news for an hour", () => {
  const off = [tight({ state: "returned", since_s: -9000, off_s: 100 })];
  assert.deepEqual(
    [3600, 3701].map((now_s) => boardFrom(off, now_s).returned.length),
    [1, 0],
  );
});

test("what is in sight is not pinned, and what is not there, covered or scrolled away is", () => {
  const step = { top: 500, bottom: 600 };
  const places = { alarm: { top: -80, bottom: 20 }, step, stop: null };
  assert.deepEqual(pinsFor(places, 0, 700), ["alarm", "stop"]);
  assert.deepEqual(pinsFor(places, 0, 540), ["alarm", "step", "stop"]);
  assert.deepEqual(pinsFor({ ...places, alarm: { top: 0, bottom: 60 } }, 100, 700), ["alarm", "stop"]);
});
