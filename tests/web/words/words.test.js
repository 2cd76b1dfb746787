// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { alike, boardFrom, followsInWords, levelBySubject, shortPlace } from "../../../web/js/live/alarms.js";
import { aboutText, clockText, countdown, lengthInWords, slackInWords } from "../../../web/js/words/format.js";
import { houseInWords } from "../../../web/js/lobby/houses.js";
import { marksToCome, nextAt } from "../../../web/js/live/next.js";
import { promptsToShow } from "../../../web/js/live/prompts.js";
import { housesText, restText } from "../../../web/js/live/quiet.js";
import { roundMoments, stringLines } from "../../../web/js/picture/stringlines.js";
import { stateAfter } from "../../../web/js/live/store.js";
import { eventInWords } from "../../../web/js/words/words.js";
import { alarm, runState, snapshot, station } from "../shows.js";

const clock = { zero_ms: Date.parse("2026-03-14T23:50:00Z"), timezone: "America/Chicago", locale: "en-US" };

test("times are on the house's clock, wherever the browser is", () => {
  assert.equal(clockText(clock, 0), "6:50");
  assert.equal(clockText({ ...clock, locale: "de" }, 61, true), "18:51:01");
});

test("a countdown is never late: its last second counts in full", () => {
  assert.deepEqual([105, 0.2, 0, -12, 3725].map(countdown), ["1:45", "0:01", "0:00", "+0:12", "1 h 02 min"]);
});

test("lengths and slack are said as people say them", () => {
  assert.deepEqual([45, 719, 3900].map(lengthInWords), ["45 s", "12 min", "1 h 05 min"]);
  assert.deepEqual([0.31, -1.12, 0.04].map(slackInWords), ["0.3 s loose", "1.1 s tight", "at rest"]);
});

test("a house says since when it shows, when it lets out, and how that stands to the plan", () => {
  const planned = { id: "h3", house: "3", start_s: 0, passes: { head: 40, end: 7000 }, strike_opens_s: 0, strike_closes_s: 0, clear_s: 7100 };
  const words = houseInWords(station({ phase: "showing", head_s: 40, end_s: 7180 }), planned, runState(), 100);
  assert.equal(`${words.now}, ${words.next} (${words.plan})`, "on screen since 6:50, lets out 8:49 pm (three minutes late)");
});

test("the wall counts no house as on screen whose lamp's contact says out or whose douser is shut", () => {
  const state = stateAfter(null, snapshot());
  assert.ok(state);
  const info = { ...state.info, stations: state.info.stations.map((named) => ({ ...named, inputs: { lamp: /** @type {const} */ ("contact") } })) };
  const showing = station({ phase: "showing", head_s: 40, lamp: "lit" });
  const said = (/** @type {Partial<import("../../../web/js/wire.js").Station>} */ given) =>
    housesText({ ...state, info, stations: [showing, { ...showing, ...given }] }, 100);
  assert.equal(said({}), "two of two houses on screen");
  assert.equal(said({ lamp: "out" }), "one of two houses on screen");
  assert.equal(said({ douser: "shut" }), "one of two houses on screen");
});

test("a house that is to start counts the minutes, and one without an estimate goes by the plan", () => {
  const planned = { id: "h3", house: "3", start_s: 0, passes: { head: 40 }, strike_opens_s: 0, strike_closes_s: 0, clear_s: 0 };
  assert.equal(houseInWords(station({ head_s: 820 }), null, runState(), 100).now, "starts in 12 min");
  assert.equal(houseInWords(station({ phase: "threaded" }), planned, runState(), -80).now, "starts in 2 min");
  assert.equal(houseInWords(station({ phase: "threaded" }), null, runState(), 0).now, "not yet");
});

test("alarms of one kind and level stand together, in the place of the first of them", () => {
  const [h3, h5, watch] = [alarm(), alarm({ key: "motor_lost:h5", subject: "h5" }), alarm({ key: "x", kind: "slack_tight", level: "watch" })];
  const bundles = alike(boardFrom([h3, watch, h5]).groups).map((bundle) => bundle.map((group) => group.alarm.key));
  assert.deepEqual(bundles, [[h3.key, h5.key], ["x"]]);
  assert.equal(shortPlace(alarm({ text: "House 5: the lamp is not lit" })), "House 5");
});

test("what somebody says is never put together with what another says", () => {
  const said = ["h3", "h5"].map((subject) => alarm({ key: `house_report:${subject}`, kind: "house_report", subject }));
  assert.equal(alike(boardFrom(said).groups).length, 2);
});

test("what follows from an alarm is listed under it, and counts as its own where that is gone", () => {
  const first = alarm();
  const follows = alarm({ key: "slack_loose:a>h3", kind: "slack_loose", subject: "a>h3", cause: first.key, told: false });
  assert.deepEqual(boardFrom([follows, first]).groups, [{ alarm: first, follows: [follows] }]);
  assert.deepEqual(boardFrom([follows]).groups, [{ alarm: follows, follows: [] }]);
  const off = alarm({ state: "returned" });
  assert.deepEqual(boardFrom([off, follows]), { heat: [], groups: [{ alarm: follows, follows: [] }], returned: [off], shelved: [] });
});

test("of what follows from an alarm its own place is told what happens, and other places are named once", () => {
  const first = alarm({ text: "House 3: the failsafe tripped" });
  const texts = [
    "House 3: the motor stopped",
    "House 3 to 5: the film is running tight",
    "House 3 to 5: the reserve will be gone",
    "House 5: the motor stopped",
  ];
  const follows = texts.map((text) => alarm({ text }));
  assert.equal(followsInWords({ alarm: first, follows }), "the motor stopped; alarms at 3 to 5, House 5");
  assert.equal(followsInWords({ alarm: first, follows: follows.slice(0, 1) }), "the motor stopped");
});

test("the worst is first, and colours its subject", () => {
  const note = alarm({ key: "misfit:h3", level: "note", since_s: 0 });
  const act = alarm({ since_s: 9 });
  assert.deepEqual(
    boardFrom([note, act]).groups.map((group) => group.alarm),
    [act, note],
  );
  assert.equal(levelBySubject([note, act]).get("h3"), "act");
});

test("film that stopped stands above the slack that led to it, until somebody has seen that", () => {
  const slack = alarm({ key: "slack_tight:a>h3", kind: "slack_tight", subject: "a>h3", since_s: 0 });
  const trip = alarm({ key: "film_trip:h3", kind: "film_trip", cause: slack.key, since_s: 9 });
  const order = (/** @type {import("../../../web/js/wire.js").Alarm[]} */ alarms) => boardFrom(alarms).groups.map((group) => group.alarm.key);
  assert.deepEqual(order([slack, trip]), [trip.key, slack.key]);
  assert.deepEqual(order([slack, { ...trip, state: "acknowledged" }]), [slack.key, trip.key]);
});

test("motors that start together are one prompt, and what is hours ahead is none", () => {
  const start = { key: "start", kind: /** @type {const} */ ("start"), from_s: 0, due_s: 0, text: "start the motor", until_s: null, mark: null };
  const far = {
    key: "shut_lamp h3",
    kind: /** @type {const} */ ("shut_lamp"),
    station: "h3",
    from_s: 7000,
    due_s: 7060,
    text: "shut down the lamp",
    until_s: null,
    mark: null,
  };
  const shown = promptsToShow([{ ...start, station: "h3" }, { ...start, station: "h5" }, far], -100, "hands");
  assert.deepEqual(
    shown.map(({ text }) => text),
    ["Start two motors together, by hand"],
  );
});

test("the next mark expected stands before those whose time is past", () => {
  const { marks } = snapshot().info;
  const order = marksToCome(station({ at_s: 60, count_s: 60, passes: { leader: 0 } }), marks, 60).map(({ mark }) => mark.id);
  assert.deepEqual(order, ["feature", "end", "t1", "head"]);
});

test("a card counts down to the picture", () => {
  assert.deepEqual(nextAt(station({ head_s: 130 }), null, null, 100), { what: "picture in", at_s: 130 });
});

test("what a station has to do next is said with its time, also where that is over", () => {
  const strike = { key: "strike h1", kind: /** @type {const} */ ("strike"), station: "h1", from_s: 50, due_s: 110, text: "", until_s: null, mark: null };
  const said = (/** @type {number} */ now_s) => nextAt(station(), strike, null, now_s);
  assert.deepEqual(said(40), { what: "strike in", at_s: 50 });
  assert.deepEqual(said(100), { what: "strike within", at_s: 110 });
  assert.deepEqual(said(111), { what: "strike, late", at_s: 110 });
  assert.deepEqual(nextAt(station(), { ...strike, kind: "intermission" }, null, 40), { what: "intermission in", at_s: 50 });
});

test("a line of the chart is observed as far as it was seen and expected from there on", () => {
  const state = stateAfter(null, snapshot());
  assert.ok(state);
  state.stations = [station({ passes: { t1: 40, head: 40 } }), station({ id: "h5", ahead_s: 60 })];
  const [head] = stringLines(state, null);
  assert.equal(head?.mark.id, "head");
  assert.deepEqual(
    head?.parts.map(({ seen, points }) => [seen, points.map(({ t_s }) => t_s)]),
    [
      [true, [40]],
      [false, [40, 100]],
    ],
  );
});

test("the chart's ticks fall on round minutes of the clock", () => {
  const moments = roundMoments([0, 900], Date.parse("2026-03-14T23:51:00Z"), 300);
  assert.deepEqual(moments, [240, 540, 840]);
});

test("events are said in the words of the vocabulary", () => {
  const { info } = snapshot();
  const seen = { id: "1", t: "", source: "tap", station: "h3" };
  assert.equal(eventInWords({ ...seen, kind: "lamp_lit" }, info), "House 3: lamp lit");
  assert.equal(eventInWords({ ...seen, kind: "mark_pass", mark: "t1" }, info), "House 3: One passed");
  assert.equal(eventInWords({ ...seen, kind: "slack_read", seconds: -1 }, info), "House 3: read 1.0 s tight");
  assert.equal(eventInWords({ ...seen, station: "h5", kind: "slack_read", seconds: -1 }, info), "House 3 to 5: read 1.0 s tight");
  assert.equal(eventInWords({ ...seen, station: "h5", kind: "relaced" }, info), "House 3 to 5: laced anew, at rest");
  assert.equal(eventInWords({ ...seen, kind: "ready" }, info), "House 3: ready to start");
  assert.equal(eventInWords({ ...seen, station: null, kind: "hold", seconds: 330 }, info), "The start is set for 6:55:30");
  assert.equal(eventInWords({ ...seen, station: null, kind: "ack", alarm: "slack_tight:h3>h5" }, info), "Acknowledged: slack tight, House 3 to 5");
});

test("what people say is told in their words, by house and by booth", () => {
  const { info } = snapshot();
  const said = { id: "1", t: "", source: "tap" };
  assert.equal(eventInWords({ ...said, kind: "call", to: "North", text: "Ready?" }, info), "Call to booth North: Ready?");
  assert.equal(eventInWords({ ...said, kind: "call", to: "all", text: "Hold." }, info), "Call to every booth: Hold.");
  assert.equal(eventInWords({ ...said, kind: "report", station: "h5", what: "no_sound", text: "left side" }, info), "House 5: no sound (left side), reported");
  assert.equal(
    eventInWords({ ...said, kind: "report", station: "h5", what: "other", text: "Please hold the start 5 minutes" }, info),
    "Lobby: Please hold the start 5 minutes",
  );
  assert.equal(eventInWords({ ...said, kind: "report_over", station: "h5", what: "no_sound" }, info), "House 5: no sound: seen to");
  assert.equal(eventInWords({ ...said, kind: "report_over", station: "h5", text: "a blown fuse" }, info), "House 5: seen to (a blown fuse)");
  assert.equal(eventInWords({ ...said, kind: "ack", alarm: "call:North" }, info), "Acknowledged: call to booth North");
  assert.equal(eventInWords({ ...said, kind: "ack", alarm: "call:chain" }, info), "Acknowledged: call to every booth");
  assert.equal(eventInWords({ ...said, kind: "ack", alarm: "house_report:h5" }, info), "Acknowledged: report from House 5");
});

test("a point of the print where something is changed is a line of its own, and a mark of the gates where that is done", () => {
  const state = runState();
  const flat = { id: "flat", title: "Lens to flat", kind: "change", x_s: 100, cue: false, stations: ["h5"] };
  state.info.marks = [...state.info.marks, flat];
  assert.deepEqual(
    stringLines(state, null).map(({ mark }) => mark.id),
    ["head", "feature", "end", "flat"],
  );
  const asked = (/** @type {string} */ id) => marksToCome(station({ id }), state.info.marks, 100).some(({ mark }) => mark.id === "flat");
  assert.deepEqual([asked("h3"), asked("h5")], [false, true]);
  const passed = { id: "1", t: "", source: "tap", kind: /** @type {const} */ ("mark_pass"), station: "h5", mark: "flat" };
  assert.equal(eventInWords(passed, state.info), "House 5: Lens to flat: done");
});

test("where somebody has to act, nobody is told that there is nothing to do", () => {
  assert.equal(restText(runState({ alarms: [alarm()] }), 100), "See to the alarm first");
  assert.equal(restText(runState({ alarms: [alarm({ state: "returned" })] }), 100), "Nothing to do now");
});

test("a time that is known roughly is told in whole minutes, and near its end in steps of five seconds", () => {
  assert.deepEqual([488, 91, 89, 42, 1].map(aboutText), ["8 min", "2 min", "90 s", "40 s", "5 s"]);
});
