// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { cellText, numberIn, rowsByKey, tableNamed } from "../../../web/js/debrief/cells.js";
import { fieldTime, momentFromClock, secondsFromField, timeOfDay } from "../../../web/js/words/clocktimes.js";
import { extentOf, passStrands, slackStrands } from "../../../web/js/debrief/comparison.js";
import { canMove, canRetract, correctionFrom, missingFrom } from "../../../web/js/debrief/corrections.js";
import { debriefAddress, fileAddress, planAddress, runsFromAddress } from "../../../web/js/debrief/debriefs.js";
import { nextPlanName } from "../../../web/js/debrief/lessons.js";
import {
  addressFrom,
  archiveInWords,
  askedFrom,
  ALL,
  dayText,
  housesInWords,
  isNarrowed,
  liveInWords,
  lossInWords,
  stateInWords,
  troubleInWords,
} from "../../../web/js/debrief/library.js";
import { found, latestAt, momentsFrom, stepFrom } from "../../../web/js/debrief/moments.js";
import { startRows, strikeRows } from "../../../web/js/debrief/offsets.js";
import { believedPoints, passLines, slackPieces, stripRows } from "../../../web/js/debrief/passlines.js";
import { recordingFrom } from "../../../web/js/debrief/recordings.js";
import { moved, showing, tickStep, zoomed } from "../../../web/js/picture/timewindow.js";
import { snapshot } from "../shows.js";

const { info } = snapshot();
const clock = { zero_ms: Date.parse("2026-03-14T23:50:00Z"), timezone: "America/Chicago", locale: "en-US" };

/** @param {number} seq @param {Partial<import("../../../web/js/wire.js").ObservedEvent>} event @param {Partial<import("../../../web/js/wire.js").ArrivedEvent>} [given] @returns {import("../../../web/js/wire.js").ArrivedEvent} */
function known(seq, event, given = {}) {
  const at_s = given.at_s ?? seq * 10;
  return {
    seq,
    at_s,
    arrived: "2026-03-15T00:00:00Z",
    arrived_s: at_s + 0.1,
    late_s: 0.1,
    retracted_by: null,
    correction: false,
    event: { id: `e${seq}`, t: "2026-03-15T00:00:00Z", kind: "lamp_lit", station: "h3", source: "tap", ...event },
    ...given,
  };
}

/** @param {Partial<import("../../../web/js/wire.js").SeriesAlarm>} given @returns {import("../../../web/js/wire.js").SeriesAlarm} */
function told(given) {
  const alarm = { key: "slack_tight:h3>h5", kind: "slack_tight", subject: "h3>h5", level: /** @type {const} */ ("watch"), cause: null };
  const times = { since_s: 20, told_s: 20, act_s: null, seen_s: null, seen_by: null, over_s: 40, lasted_s: 20 };
  return { ...alarm, text: "Link h3>h5: the film is running tight", todo: "Go to this link.", ...times, ...given };
}

test("what was taken back is no moment of the run as it is known now, and stands as it was known then", () => {
  const events = [
    known(1, {}, { at_s: 10, retracted_by: "e3" }),
    known(2, { by: "Ines" }, { at_s: 12, arrived_s: 100, late_s: 88 }),
    known(3, { kind: "retract", retracts: "e1", station: null }, { at_s: 30 }),
  ];
  const now = momentsFrom(events, [], info, "now");
  assert.deepEqual(
    now.map(({ at_s, text }) => [at_s, text]),
    [[12, "House 3: lamp lit"]],
  );
  assert.match(now[0]?.more ?? "", /by Ines.*88 s late/);
  const then = momentsFrom(events, [], info, "then");
  assert.deepEqual(
    then.map(({ at_s, text, undone }) => [at_s, text, undone]),
    [
      [10.1, "House 3: lamp lit", true],
      [30.1, "Taken back: House 3: lamp lit", false],
      [100, "House 3: lamp lit", false],
    ],
  );
});

test("a step goes to the next instant of its kind, over all that happened at one instant", () => {
  const moments = momentsFrom([known(1, {}, { at_s: 10 }), known(2, {}, { at_s: 10 }), known(3, {}, { at_s: 25 })], [told({})], info, "now");
  assert.equal(stepFrom(moments, "event", 1, -5), 10);
  assert.equal(stepFrom(moments, "event", 1, 10), 25);
  assert.equal(stepFrom(moments, "event", -1, 25), 10);
  assert.equal(stepFrom(moments, "alarm", 1, 10), 20);
  assert.equal(stepFrom(moments, "alarm", 1, 20), null);
  assert.equal(stepFrom(moments, "event", -1, 10), null);
  assert.deepEqual([latestAt(moments, 9), latestAt(moments, 10), latestAt(moments, 24)], [-1, 1, 2]);
});

test("a moment is found by every word and by the time that the house's clock showed", () => {
  const moments = momentsFrom([known(1, { by: "Ines" }), known(2, { kind: "mark_pass", mark: "t1" })], [told({ seen_s: 25, seen_by: "Ada" })], info, "now");
  const texts = (/** @type {string} */ asked) => found(moments, asked, () => "7:04:05 pm").map(({ text }) => text);
  assert.deepEqual(texts("alarm tight"), ["Link h3>h5: the film is running tight"]);
  assert.deepEqual(texts("7:04:05 pm tight"), ["Link h3>h5: the film is running tight"]);
  assert.deepEqual(texts("7:04:05 am tight"), []);
  assert.deepEqual(texts("ada"), ["Link h3>h5: the film is running tight"]);
  assert.deepEqual(texts("house 3 one"), ["House 3: One passed"]);
  assert.equal(texts("7:04").length, 3);
  assert.equal(texts("04:05").length, 0);
  assert.equal(texts("  ").length, 3);
});

test("a time of day is the moment nearest to where one looks, over midnight and a change of the clock", () => {
  assert.equal(timeOfDay(clock, 0.25), 18 * 3600 + 50 * 60 + 0.25);
  assert.equal(momentFromClock(clock, "18:50:10", 3600), 10);
  assert.equal(momentFromClock(clock, "00:10", 5 * 3600), (5 * 60 + 20) * 60);
  assert.equal(momentFromClock(clock, "18:50:10.5", 0), 10.5);
  assert.equal(momentFromClock(clock, "25:00", 0), null);
  assert.equal(secondsFromField("7:05"), 25_500);
  // Clocks of that place went from 2:00 to 3:00 on 8 March 2026 (IANA, America/Chicago): 3:30 is half an hour after 1:59:59.
  const spring = { ...clock, zero_ms: Date.parse("2026-03-08T07:59:59Z") };
  assert.equal(momentFromClock(spring, "03:30:00", 0), 1801);
});

test("a time field shows the time of day, and reads back as the same moment", () => {
  assert.equal(fieldTime(clock, 0), "18:50:00");
  assert.equal(fieldTime(clock, 65.26, 1), "18:51:05.3");
  assert.equal(fieldTime(clock, 59.96, 1), "18:51:00.0");
  assert.equal(momentFromClock(clock, fieldTime(clock, 4321.4, 1), 4000), 4321.4);
});

/** @param {Partial<import("../../../web/js/debrief/corrections.js").Draft>} given @returns {import("../../../web/js/debrief/corrections.js").Draft} */
function draft(given) {
  return {
    what: "add",
    known: null,
    kind: "lamp_lit",
    station: "h5",
    mark: "t1",
    text: "",
    at_s: 61.5,
    as: "read",
    sigma_s: 2,
    by: " Ada ",
    why: "",
    ...given,
  };
}

test("a correction names who makes it, and says no more than was asked for", () => {
  assert.deepEqual(correctionFrom(draft({ why: "forgotten" }), info.zero, "c-1"), {
    id: "c-1",
    by: "Ada",
    retract: null,
    add: { t: "2026-03-14T23:51:01.500Z", kind: "lamp_lit", station: "h5", source: "recording:debrief", sigma_s: 2 },
    text: "forgotten",
  });
  const event = known(4, { kind: "mark_pass", mark: "t1", sigma_s: 0.3 });
  assert.deepEqual(correctionFrom(draft({ what: "move", known: event, as: "tap" }), info.zero, "c-2"), {
    id: "c-2",
    by: "Ada",
    retract: "e4",
    add: { t: "2026-03-14T23:51:01.500Z", kind: "mark_pass", station: "h3", mark: "t1", source: "tap:debrief" },
    text: null,
  });
  assert.deepEqual(correctionFrom(draft({ what: "retract", known: event }), info.zero, "c-3").add, null);
  assert.deepEqual(correctionFrom(draft({ kind: "slack_read", text: "−0,4" }), info.zero, "c-4").add?.seconds, -0.4);
});

test("a correction with something missing says what", () => {
  assert.match(missingFrom(draft({ by: " " })), /who/);
  assert.match(missingFrom(draft({ at_s: null })), /time/);
  assert.match(missingFrom(draft({ sigma_s: 0 })), /how sure/);
  assert.match(missingFrom(draft({ kind: "mark_pass", mark: "" })), /mark/);
  assert.match(missingFrom(draft({ kind: "slack_read", text: "some" })), /reading/);
  assert.equal(missingFrom(draft({})), "");
  assert.equal(missingFrom(draft({ what: "retract", at_s: null })), "");
});

test("what a computer said of itself is neither taken back nor moved, nor what was taken back already", () => {
  assert.deepEqual([canRetract(known(1, {})), canMove(known(1, {}))], [true, true]);
  assert.deepEqual([canRetract(known(1, { kind: "ack" })), canMove(known(1, { kind: "ack" }))], [true, false]);
  assert.equal(canRetract(known(1, { kind: "feed_down" })), false);
  assert.equal(canRetract(known(1, {}, { retracted_by: "x" })), false);
});

test("cells are told with their units, and nothing as a dash", () => {
  assert.equal(cellText(0, "clock", clock), "6:50:00 pm");
  assert.equal(cellText(-0.004, "s", clock), "0.00 s");
  assert.equal(cellText(-1.25, "s", clock), "−1.25 s");
  assert.equal(cellText(12.4, "ppm", clock), "12 ppm");
  assert.equal(cellText(3, "number", clock), "3");
  assert.equal(cellText(2.345, "percent", clock), "2.3 %");
  assert.equal(cellText(null, "s", clock), "–");
});

/** @type {import("../../../web/js/wire.js").TableDocument} */
const strikes = {
  id: "strikes",
  title: "Strikes",
  columns: ["house", "opens_s", "closes_s", "lit_s", "verdict"].map((key) => ({ key, title: key, unit: "clock" })),
  rows: [
    ["3", 10, 85, 95, "10.0 s late"],
    ["5", null, null, null, "no head"],
  ],
};

test("a strike stands as far after the end of its window as the table beside it says", () => {
  assert.deepEqual(strikeRows(strikes), [
    { name: "House 3", at_s: 10, window: [-75, 0], said: "10.0 s late" },
    { name: "House 5", at_s: null, window: null, said: "no head" },
  ]);
  assert.equal(tableNamed([strikes], "starts"), null);
  assert.equal(numberIn(rowsByKey(strikes)[0]?.["verdict"]), null);
  const starts = {
    ...strikes,
    columns: [
      { key: "house", title: "", unit: /** @type {const} */ ("text") },
      { key: "late_s", title: "", unit: /** @type {const} */ ("s") },
    ],
    rows: [["5", -0.25]],
  };
  assert.deepEqual(startRows(starts), [{ name: "House 5", at_s: -0.25, window: null, said: "−0.25 s" }]);
});

/** @param {Partial<import("../../../web/js/wire.js").SeriesPass>} given @returns {import("../../../web/js/wire.js").SeriesPass} */
function pass(given) {
  return { station: "h3", mark: "head", planned_s: 40, expected_s: 40.5, expected_sd_s: 0.2, observed_s: null, believed: false, ...given };
}

/** @param {import("../../../web/js/wire.js").SeriesPass[]} passes @param {(number | null)[]} [slack_s] @returns {import("../../../web/js/wire.js").Series} */
function series(passes, slack_s = [0, 1, null, 2]) {
  const slack = { t_s: [0, 10, 20, 30], links: [{ id: "h3>h5", reserve_s: 2, slack_s, sd_s: slack_s.map((value) => value && 0.1) }] };
  return { clock: "now", version: 1, from_s: 0, to_s: 30, passes, slack, phases: [], alarms: [] };
}

test("marks at one place of the print are one line, whichever of them was seen", () => {
  const lines = passLines(series([pass({}), pass({ mark: "t1", observed_s: 41, believed: true }), pass({ station: "h5", observed_s: 99 })]), info);
  const [first] = lines;
  assert.equal(first?.mark.id, "head");
  assert.deepEqual(
    first?.observed.map(({ station, t_s, believed }) => [station, t_s, believed]),
    [
      ["h3", 41, true],
      ["h5", 99, false],
    ],
  );
  assert.deepEqual(
    believedPoints(first?.observed ?? []).map(({ station }) => station),
    ["h3"],
  );
});

test("slack has no line where no film is in the link", () => {
  const one = series([]);
  const [link] = one.slack.links;
  assert.ok(link);
  assert.deepEqual(
    slackPieces(one.slack.t_s, link).map((piece) => piece.map(({ t_s }) => t_s)),
    [[0, 10], [30]],
  );
});

test("no alarm covers another one on the strip, and one that was still on goes on to the end", () => {
  const alarms = [told({ told_s: 0, over_s: null }), told({ told_s: 5, over_s: 6 }), told({ told_s: 6.5, over_s: 7 }), told({ told_s: 20, over_s: 30 })];
  assert.deepEqual(stripRows(alarms, 100, 0), [0, 1, 1, 1]);
  assert.deepEqual(stripRows(alarms, 100, 3), [0, 1, 2, 1]);
});

test("runs are laid over each other from their own first starts", () => {
  const run = (/** @type {string} */ id, /** @type {number | null} */ first_start_s) => ({
    id,
    title: "Show",
    zero: info.zero,
    day: "2026-03-14",
    first_start_s,
  });
  const comparison = {
    runs: [run("A", 1), run("B", null)],
    tables: [],
    series: [series([pass({ observed_s: 43, believed: true })]), series([pass({ observed_s: 39, believed: false })], [0, 0, 0, 0])],
  };
  assert.deepEqual(passStrands(comparison, "head", ["h3", "h5"]), [
    { label: "A", points: [{ x: 0, y: 2 }] },
    { label: "B", points: [] },
  ]);
  const [a] = slackStrands(comparison, "h3>h5");
  assert.deepEqual(a?.points[1], { x: 9, y: 1 });
  assert.ok(Number.isNaN(a?.points[2]?.y));
  assert.deepEqual(extentOf(slackStrands(comparison, "h3>h5"), "y"), [0, 2]);
  assert.deepEqual(extentOf([], "x"), [0, 1]);
});

test("a chart never shows what is outside of the run, nor less than ten seconds", () => {
  const whole = /** @type {[number, number]} */ ([0, 1000]);
  assert.deepEqual(zoomed([0, 1000], 0.5, 250, whole), [125, 625]);
  assert.deepEqual(zoomed([0, 1000], 0.5, 0, whole), [0, 500]);
  assert.deepEqual(zoomed([0, 1000], 4, 500, whole), [0, 1000]);
  assert.deepEqual(zoomed([100, 112], 0.1, 106, whole), [101, 111]);
  assert.deepEqual(moved([800, 1000], 50, whole), [800, 1000]);
  assert.deepEqual(showing([0, 100], 50, whole), [0, 100]);
  assert.deepEqual(showing([0, 100], 500, whole), [450, 550]);
  assert.equal(tickStep(7200, 10), 900);
});

test("the library says what is asked for in its address, and nothing of what is not", () => {
  assert.equal(addressFrom({ ...ALL }), "/library");
  const asked = { ...ALL, house: "3", archived: "all" };
  assert.deepEqual(askedFrom(addressFrom(asked).replace("/library", "")), asked);
  assert.deepEqual([isNarrowed({ ...ALL }), isNarrowed(asked)], [false, true]);
});

test("a run of the library is told in words", () => {
  assert.equal(troubleInWords({ misfit: 1, slack_tight: 3, dark_gate: 0 }), "3 × slack tight, 1 × event that does not fit");
  assert.equal(troubleInWords({}), "no alarm");
  assert.equal(troubleInWords(null), "alarms not counted yet");
  assert.equal(dayText("2026-03-14", "en-GB"), "Sat, 14 Mar 2026");
  /** @type {import("../../../web/js/wire.js").LibraryRun} */
  const line = {
    ...{ run: "r", title: "Show", site: null, plan_name: "p", timezone: "UTC", zero: info.zero, day: "2026-03-14", created: info.zero },
    ...{
      stations: ["h3", "h5"],
      houses: ["3", "5"],
      events: 1,
      last_arrived: null,
      live: false,
      silent_since: null,
      archived: null,
      trouble: null,
      fault: null,
    },
    ...{ state: null, drill: false, damaged: false },
  };
  assert.deepEqual(stateInWords(line), ["not read yet"]);
  assert.deepEqual(stateInWords({ ...line, live: true, state: "running", drill: true }), ["running now", "a drill"]);
  const [unheard] = stateInWords({ ...line, live: true, silent_since: "2026-03-14T23:50:00Z", state: "running" }, "en-GB");
  assert.match(unheard ?? "", /^running when last heard of, at 1[45] Mar 2026, /);
  assert.deepEqual(stateInWords({ ...line, state: "standing", damaged: true }), ["left standing", "damaged"]);
  assert.deepEqual(stateInWords({ ...line, state: "over" }), ["over"]);
  assert.deepEqual(stateInWords({ ...line, fault: "no plan" }), []);
  assert.equal(housesInWords(line), "two houses: 3, 5");
  assert.match(lossInWords(line), /its 1 event with every correction.*cannot be brought back/);
});

test("a live run is said not to be finished, up to when it is known, and when its site was last heard of", () => {
  assert.deepEqual(liveInWords(null), { text: "This run is live: it is shown as far as it has come.", look: false });
  const heard = { last_arrived: "2026-03-14T12:50:00Z", at: "2026-03-14T12:55:00Z", is_silent: false };
  const fresh = liveInWords(heard, "en-GB");
  assert.match(fresh.text, /^This run is live at its site and not finished\. It is shown up to its last event here, of 14 Mar 2026, .*:50:00\.$/);
  assert.equal(fresh.look, false);
  const stale = liveInWords({ ...heard, last_arrived: null, is_silent: true }, "en-GB");
  assert.match(
    stale.text,
    /^This run was not finished when its site was last heard of, at 14 Mar 2026, .*:55:00\. No event of it is here\. What happened there since/,
  );
  assert.equal(stale.look, true);
});

test("how the archive fares is told in a sentence, and asks for a look where something is wrong", () => {
  const lag = { place: "p", site: "north", waiting: 0, since: null, why: null, notes: [] };
  assert.deepEqual(archiveInWords(lag), { text: "The archive has all of north.", look: false });
  const late = archiveInWords({ ...lag, waiting: 2, since: "2026-03-14T23:50:00Z" }, "en-GB");
  assert.match(late.text, /^2 events are on the way to the archive since 1[45] Mar 2026, .*\.$/);
  assert.equal(late.look, false);
  const cut = archiveInWords({ ...lag, waiting: 1, why: "It is gone." });
  assert.deepEqual(cut, { text: "The archive gets nothing. It is gone. 1 event waits here, and nothing is lost.", look: true });
  assert.equal(archiveInWords({ ...lag, notes: ["Look."] }).look, true);
});

test("addresses carry whatever a run is called", () => {
  assert.deepEqual(runsFromAddress("?run=a%20b&run=c&run=a%20b&run="), ["a b", "c"]);
  assert.equal(debriefAddress(["a b", "c"], "compare"), "/debrief?run=a+b&run=c#compare");
  assert.equal(fileAddress("a/b", "report.html", "then"), "/api/debriefs/a%2Fb/report.html?clock=then");
  assert.equal(planAddress(["a"], "n&m.toml"), "/api/lessons/plan?run=a&name=n%26m.toml");
});

test("the next plan is counted on from the last", () => {
  assert.equal(nextPlanName("lantern.plan.toml"), "lantern-2.plan.toml");
  assert.equal(nextPlanName("C:\\plans\\lantern-9.plan.toml"), "lantern-10.plan.toml");
  assert.equal(nextPlanName(""), "next-2.plan.toml");
});

/** @param {string} name @param {number} [size] */
function file(name, size = 10) {
  return { name, size, text: () => Promise.resolve(`text of ${name}`) };
}

test("of the files that are dropped one is the recording and one may be its plan", async () => {
  assert.deepEqual(await recordingFrom([file("a.plan.toml"), file("a.events.jsonl")]), {
    recording: { name: "a.events.jsonl", text: "text of a.events.jsonl" },
    plan: { name: "a.plan.toml", text: "text of a.plan.toml" },
  });
  assert.equal((await recordingFrom([file("a.events.jsonl")])).plan, null);
  await assert.rejects(recordingFrom([file("a.plan.toml")]), /a plan alone is no run/);
  await assert.rejects(recordingFrom([file("a.jsonl"), file("b.jsonl")]), /one recording at a time/);
  await assert.rejects(recordingFrom([file("a.jsonl", 9e6)]), /9 MB; accepted are at most 8 MB/);
});
