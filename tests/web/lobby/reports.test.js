// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { clockText, houseClock } from "../../../web/js/words/format.js";
import { TEXT_LENGTH, TROUBLE_TOUCHES, askToHold, housesSaid, latestOf, mineOf, reportFrom } from "../../../web/js/lobby/reports.js";
import { asksToHold } from "../../../web/js/lobby/troubles.js";
import { alarm, restartCard, runState, station } from "../shows.js";

/** @typedef {import("../../../web/js/wire.js").HouseReport} HouseReport */
/** @typedef {import("../../../web/js/booth/taps.js").Tap} Tap */

const LAG_S = 0.25;
const clock = houseClock(runState({}).info);
const at = (/** @type {number} */ s) => clockText(clock, s);

/** @param {Partial<HouseReport>} [given] @returns {HouseReport} */
function said(given) {
  return { station: "h3", what: "no_sound", text: null, by: "Otto", since_s: 100, acked_by: null, over_s: null, over_by: null, ...given };
}

/** @param {HouseReport[]} reports @param {{alarms?: import("../../../web/js/wire.js").Alarm[], now_s?: number}} [more] */
function run(reports, { alarms = [], now_s = 200 } = {}) {
  const state = runState({ reports, alarms });
  const { info } = state;
  const line = { run: info.run, title: info.title, site: null, timezone: info.timezone, zero: info.zero, demo: false, fault: null };
  return { line, state, schedule: null, now_s };
}

/** A report of this device, tapped so that it counts at `counted_s`. @param {string} id @param {number} counted_s @param {Partial<Tap>} [tap] @param {Partial<import("../../../web/js/wire.js").ObservedEvent>} [event] @returns {Tap} */
function tapped(id, counted_s, tap, event) {
  const t = new Date(Date.parse(runState({}).info.zero) + (counted_s + LAG_S) * 1000).toISOString();
  return { event: { id, t, kind: "report", station: "h3", what: "no_sound", source: "tap", ...event }, state: "taken", reason: "", ...tap };
}

/** @param {string} retracts @param {number} counted_s @param {Tap["state"]} [state] */
const back = (retracts, counted_s, state = "taken") => tapped(`back ${retracts}`, counted_s, { state }, { kind: "retract", retracts });

/** House, what is wrong, and what became of it. @param {ReturnType<typeof housesSaid>} houses */
const short = (houses) =>
  houses.map(({ house, answered }) => [house, ...answered.flatMap((each) => [each.said.map(({ words }) => words).join(", "), each.answer])]);

const acknowledged = alarm({ key: "house_report:h3", kind: "house_report", subject: "h3", level: "watch", state: "acknowledged", acked_by: "Ida" });

test("a house has one line: what is wrong there, who says so, and who has it", () => {
  const reports = [said(), said({ what: "people", text: "row 10" }), said({ station: "h5", what: "no_picture", by: null })];
  const [one, other] = housesSaid([run(reports)], {});
  assert.deepEqual(short([one, other].flatMap((house) => house ?? [])), [
    ["3", "no sound, trouble among the people (row 10)", "nobody has it yet"],
    ["5", "no picture", "nobody has it yet"],
  ]);
  assert.deepEqual(
    one?.answered[0]?.said.map(({ since }) => since),
    ["", `reported at ${at(100)} by Otto`],
  );
  assert.deepEqual(
    other?.answered[0]?.said.map(({ since }) => since),
    [`reported at ${at(100)}`],
  );
});

test("who has it is named, or is the booth where nobody gave a name", () => {
  assert.deepEqual(short(housesSaid([run([said({ acked_by: "Ida" })], { alarms: [acknowledged] })], {})), [["3", "no sound", "Ida has it"]]);
  assert.deepEqual(short(housesSaid([run([said()], { alarms: [acknowledged] })], {})), [["3", "no sound", "the booth has it"]]);
  const anew = { ...acknowledged, state: /** @type {const} */ ("unacknowledged") };
  assert.deepEqual(short(housesSaid([run([said({ acked_by: "Ida" })], { alarms: [anew] })], {})), [["3", "no sound", "nobody has it yet"]]);
});

test("what was seen to says when, behind what waits, and goes after a quarter of an hour", () => {
  const reports = [said({ over_s: 150, over_by: "Ida" }), said({ station: "h5", what: "unsteady" })];
  assert.deepEqual(short(housesSaid([run(reports)], {})), [
    ["5", "picture unsteady", "nobody has it yet"],
    ["3", "no sound", `seen to at ${at(150)}`],
  ]);
  assert.deepEqual(short(housesSaid([run(reports, { now_s: 150 + 15 * 60 })], {})), [["5", "picture unsteady", "nobody has it yet"]]);
});

test("what this device says shows as waiting, with its time, until the server has it, and as refused with the reason", () => {
  const mine = { r: [tapped("a", 110, { state: "waiting", reason: "later" }), tapped("b", 120, { state: "refused", reason: "too many" }, { what: "people" })] };
  const [house] = housesSaid([run([])], mine);
  assert.deepEqual(short(house ? [house] : []), [["3", "trouble among the people", "refused: too many", "no sound", "waiting to be sent: later"]]);
  assert.deepEqual(
    house?.answered.map(({ said: [one] }) => [one?.since, one?.takeBack, one?.putAway]),
    [
      [`at ${at(120)}`, null, "b"],
      [`at ${at(110)}`, "a", null],
    ],
  );
});

test("what this device said can be taken back here, what others said cannot", () => {
  const mine = { r: [tapped("a", 100)] };
  const touch = (/** @type {HouseReport} */ report, /** @type {Tap[]} */ taps) => housesSaid([run([report])], { r: taps })[0]?.answered[0]?.said[0]?.takeBack;
  assert.equal(touch(said(), mine.r), "a");
  assert.equal(touch(said({ since_s: 101 }), mine.r), null);
  assert.equal(touch(said({ what: "people" }), mine.r), null);
  assert.equal(touch(said({ over_s: 150 }), mine.r), null);
  assert.equal(touch(said(), [...mine.r, back("a", 130, "waiting")]), null);
  assert.equal(housesSaid([run([said()])], { r: [...mine.r, back("a", 130, "waiting")] })[0]?.answered[0]?.answer, "taking back: waiting to be sent");
});

/** @param {HouseReport[]} reports @param {Tap[]} taps @param {Parameters<typeof run>[1]} [more] */
const became = (reports, taps, more) => {
  const latest = latestOf([run(reports, more)], { r: taps });
  return latest && [latest.house, latest.words, latest.fate, latest.answer];
};

test("the last report of this device is answered, from the touch until a while after it was seen to", () => {
  const sent = tapped("b", 120);
  assert.deepEqual(became([], [tapped("a", 100), { ...sent, state: "waiting" }]), ["3", "no sound", "waiting", "waiting to be sent"]);
  assert.deepEqual(became([], [sent]), ["3", "no sound", "sent", "nobody has it yet"]);
  assert.deepEqual(became([said({ since_s: 120, acked_by: "Ida" })], [sent], { alarms: [acknowledged] }), ["3", "no sound", "had", "Ida has it"]);
  assert.deepEqual(became([said({ since_s: 120, over_s: 150 })], [sent]), ["3", "no sound", "over", `seen to at ${at(150)}`]);
  assert.equal(became([said({ since_s: 120, over_s: 150 })], [sent], { now_s: 150 + 15 * 60 }), null);
  assert.equal(became([said()], []), null);
});

test("the last report is the one that was made last, also where the server's time was only known better by then", () => {
  const taps = [tapped("a", 130), { ...tapped("b", 120), state: /** @type {const} */ ("waiting") }];
  assert.deepEqual(became([said({ since_s: 130 })], taps)?.slice(2), ["waiting", "waiting to be sent"]);
});

test("a report that somebody said again later has the answer to that", () => {
  const again = said({ since_s: 150, by: "Ines", acked_by: "Ida" });
  assert.deepEqual(became([again], [tapped("a", 100)], { alarms: [acknowledged] }), ["3", "no sound", "had", "Ida has it"]);
  assert.deepEqual(became([said({ since_s: 90, over_s: 95 })], [tapped("a", 100)]), ["3", "no sound", "sent", "nobody has it yet"]);
});

test("what was taken back says so for a minute", () => {
  const taps = [tapped("a", 100), back("a", 190)];
  assert.deepEqual(became([], taps, { now_s: 200 }), ["3", "no sound", "retracted", "taken back"]);
  assert.equal(became([], taps, { now_s: 250 }), null);
  assert.deepEqual(became([], [tapped("a", 100), back("a", 190, "refused")], { now_s: 200 }), ["3", "no sound", "sent", "nobody has it yet"]);
});

test("what is answered below is not said once more above, and the rest of its house is", () => {
  const reports = [said(), said({ what: "people", by: "Ines" })];
  const runs = [run(reports)];
  const mine = { r: [tapped("a", 100)] };
  assert.deepEqual(short(housesSaid(runs, mine, latestOf(runs, mine))), [["3", "trouble among the people", "nobody has it yet"]]);
});

test("what earlier pages had sent is known to be of this device, and nothing else of it is shown", () => {
  const [earlier, lamp] = [tapped("a", 100).event, { ...tapped("l", 100).event, kind: /** @type {const} */ ("lamp_lit") }];
  const taps = [
    tapped("a", 100),
    { ...tapped("b", 120), state: /** @type {const} */ ("waiting") },
    { event: lamp, state: /** @type {const} */ ("waiting"), reason: "" },
  ];
  assert.deepEqual(
    mineOf([earlier, tapped("z", 90).event], taps).map(({ event, state }) => [event.id, state]),
    [
      ["z", "taken"],
      ["a", "taken"],
      ["b", "waiting"],
    ],
  );
});

test("a report has its words on one line of at most 200 characters, or none", () => {
  assert.deepEqual(reportFrom("h3", "people", "  row\n10 \t and back "), { kind: "report", station: "h3", what: "people", text: "row 10 and back" });
  assert.deepEqual(reportFrom("h3", "no_sound", "   "), { kind: "report", station: "h3", what: "no_sound" });
  assert.equal(reportFrom("h3", "other", "x".repeat(300)).text?.length, TEXT_LENGTH);
  assert.deepEqual(
    TROUBLE_TOUCHES.map(({ label }) => label),
    ["No picture", "No sound", "Picture unsteady", "Out of focus", "Trouble among the people", "Something else"],
  );
});

test("the start can be asked to be held until a motor has started", () => {
  const card = { ...restartCard(), before: /** @type {const} */ ("start") };
  const asked = { kind: "report", station: "h3", what: "other", text: "Please hold the start 5 minutes" };
  assert.deepEqual(askToHold(runState({ restart: card, stations: [station({ started_s: null })] })), asked);
  assert.equal(askToHold(runState({ restart: restartCard() })), null);
  assert.equal(askToHold(runState({ restart: null })), null);
});

test("who asked for a hold has an answer, where nothing was wrong that was seen to", () => {
  const asked = said({ what: "other", text: "Please hold the start 5 minutes", over_s: 160 });
  assert.deepEqual([asked, said({ what: "other", text: "rain" }), said({ what: "people", text: asked.text })].map(asksToHold), [true, false, false]);
  assert.deepEqual(short(housesSaid([run([asked, said({ station: "h5", over_s: 160 })])], {})), [
    ["", "Please hold the start 5 minutes", `answered at ${at(160)}`],
    ["5", "no sound", `seen to at ${at(160)}`],
  ]);
});
