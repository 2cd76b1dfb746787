// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { isSaid, levelBySubject, wentOffAlone, wordsOf } from "../../../web/js/live/alarms.js";
import { LONGEST_CALL, USUAL_CALLS, ackOf, alarmsHere, alarmsThatSound, becameInWords, callOf, heardBy, saidCalls } from "../../../web/js/booth/calls.js";
import { houseClock } from "../../../web/js/words/format.js";
import { logLines, withTap } from "../../../web/js/booth/taps.js";
import { openAt, troubleInWords, waysToBeOver } from "../../../web/js/lobby/troubles.js";
import { alarm, runState, snapshot } from "../shows.js";

/** @typedef {import("../../../web/js/wire.js").ObservedEvent} ObservedEvent */
/** @typedef {import("../../../web/js/wire.js").HouseReport} HouseReport */
/** @typedef {import("../../../web/js/live/store.js").RunState} RunState */

const all = { booth: null, me: null };

/** @param {string} id @param {number} t_s @param {Partial<ObservedEvent>} what @returns {ObservedEvent} */
const event = (id, t_s, what) => ({
  id,
  t: new Date(Date.parse(snapshot().info.zero) + t_s * 1000).toISOString(),
  source: "tap",
  kind: "call",
  to: "North",
  text: "Ready?",
  ...what,
});

/** @param {string} id @param {number} t_s @param {Partial<ObservedEvent>} [what] */
const heard = (id, t_s, what) => event(id, t_s, { kind: "ack", alarm: "call:North", to: null, text: null, by: "Odile", ...what });

/** @param {string} subject @param {Partial<import("../../../web/js/wire.js").Alarm>} [given] */
const ringing = (subject, given) =>
  alarm({ key: `call:${subject}`, kind: "call", subject, level: "watch", text: "Call to booth North: Ready? (Ines)", todo: "Acknowledge it.", ...given });

/** @param {Partial<HouseReport>} [given] @returns {HouseReport} */
const report = (given) => ({ station: "h5", what: "no_sound", text: null, by: "Ida", since_s: 10, acked_by: null, over_s: null, over_by: null, ...given });

/** House 3 is in North, House 5 in South. @param {Partial<RunState>} given */
function booths(given) {
  const state = runState(given);
  const stations = state.info.stations.map((station, place) => ({ ...station, booth: place ? "South" : "North" }));
  return { ...state, info: { ...state.info, stations, booths: ["North", "South"] } };
}

/** @param {import("../../../web/js/wire.js").Alarm[]} alarms */
const keys = (alarms) => alarms.map(({ key }) => key);

test("a usual call is one line, and each is another", () => {
  assert.equal(new Set(USUAL_CALLS).size, USUAL_CALLS.length);
  for (const words of USUAL_CALLS) assert.ok(words.length <= LONGEST_CALL && !words.includes("\n"));
  assert.deepEqual(callOf("North", "Ready?"), { kind: "call", to: "North", text: "Ready?" });
});

test("a call is shown and rings at the booth it is for, at every booth where it is for all, and where no booth is chosen", () => {
  const state = booths({ alarms: [ringing("North"), ringing("chain"), alarm()] });
  for (const shown of [alarmsHere, alarmsThatSound]) {
    assert.deepEqual(keys(shown(state, [], { booth: "North", me: null })), ["call:North", "call:chain", "motor_lost:h3"]);
    assert.deepEqual(keys(shown(state, [], { booth: "South", me: null })), ["call:chain", "motor_lost:h3"]);
    assert.deepEqual(keys(shown(state, [], all)), ["call:North", "call:chain", "motor_lost:h3"]);
  }
});

test("whoever called need not hear it, on this device or by this name, unless somebody else called as well", () => {
  const own = event("own", 10, { by: "Ines" });
  const state = booths({ alarms: [ringing("North")], events: [own] });
  assert.deepEqual(alarmsHere(state, logLines(withTap([], own), [own]), all), []);
  assert.deepEqual(alarmsHere(state, logLines([], [own]), { booth: null, me: "Ines" }), []);
  assert.deepEqual(keys(alarmsHere(state, logLines([], [own]), { booth: null, me: "" })), ["call:North"]);
  const both = [own, event("other", 12, { by: "Odile" })];
  assert.deepEqual(keys(alarmsHere({ ...state, events: both }, logLines([], both), { booth: null, me: "Ines" })), ["call:North"]);
  const before = [event("other", 5, { by: "Odile" }), heard("ack", 8), own];
  assert.deepEqual(alarmsHere({ ...state, events: before }, logLines([], before), { booth: null, me: "Ines" }), []);
});

test("an acknowledgement hears what was said before it, and nothing but what it names", () => {
  const { info } = snapshot();
  const call = event("call", 10, {});
  assert.equal(heardBy(call, [call], info), null);
  assert.equal(heardBy(call, [call, heard("early", 9), heard("ack", 12), heard("again", 13)], info)?.id, "ack");
  assert.equal(heardBy(call, [heard("ack", 12, { text: "other\ncall" })], info)?.id, "ack");
  assert.equal(heardBy(call, [heard("ack", 12, { text: "other" }), call], info), null);
  assert.equal(heardBy(call, [call, heard("other", 12, { alarm: "call:South" })], info), null);
  assert.equal(heardBy(event("call", 10, { to: "all" }), [event("call", 10, {}), heard("ack", 12, { alarm: "call:chain" })], info)?.id, "ack");
  const back = event("back", 14, { kind: "retract", retracts: "ack" });
  assert.equal(heardBy(call, [call, heard("ack", 12), back], info), null);
});

test("whoever called sees that it waits, that it rings, and by whom and when it was heard", () => {
  const call = event("call", 10, {});
  const clock = houseClock(snapshot().info, "en-US");
  const said = (/** @type {RunState} */ state, /** @type {import("../../../web/js/booth/taps.js").Tap[]} */ taps, now_s = 20) =>
    saidCalls(state, logLines(taps, state.events), all, now_s).map((each) => becameInWords(each, clock));
  const waiting = withTap([], call);
  const taken = waiting.map((tap) => ({ ...tap, state: /** @type {const} */ ("taken") }));
  assert.deepEqual(said(booths({}), waiting), ["waiting to be sent"]);
  assert.deepEqual(said(booths({}), taken), ["not heard yet"]);
  assert.deepEqual(said(booths({ events: [call], alarms: [ringing("North")] }), taken), ["not heard yet"]);
  const answered = booths({ events: [call, heard("ack", 71)] });
  assert.deepEqual(said(answered, taken, 80), ["heard by Odile at 6:51:11"]);
  assert.deepEqual(said(answered, taken, 671), []);
  assert.deepEqual(said(booths({ events: [call, event("back", 11, { kind: "retract", retracts: "call" })] }), taken), []);
});

test("calls are acknowledged by name, those that this desk knows, and other alarms by their key alone", () => {
  const [one, two, south] = [event("one", 10, {}), event("two", 11, {}), event("south", 11, { to: "South" })];
  assert.deepEqual(ackOf("call:North", booths({ events: [one, two, south] })), { kind: "ack", alarm: "call:North", text: "one\ntwo" });
  assert.equal(ackOf("call:North", booths({ events: [one, heard("ack", 10.5), two] })).text, "two");
  assert.deepEqual(ackOf("motor_lost:h3", booths({ events: [one] })), { kind: "ack", alarm: "motor_lost:h3" });
});

test("what a house reports is acknowledged by name: the latest of each trouble that is open, as more may be on its way", () => {
  const said = (/** @type {string} */ id, /** @type {number} */ t_s, /** @type {Partial<ObservedEvent>} */ what) =>
    event(id, t_s, { kind: "report", station: "h5", what: "no_sound", to: null, text: null, ...what });
  const back = event("back", 15, { kind: "retract", retracts: "gone", to: null, text: null });
  const events = [
    said("late", 12, {}),
    said("early", 10, {}),
    said("people", 11, { what: "people" }),
    said("over", 9, { what: "unsteady" }),
    said("gone", 14, {}),
    back,
  ];
  const reports = [report(), report({ what: "people" }), report({ what: "unsteady", over_s: 20 }), report({ station: "h3" })];
  assert.deepEqual(ackOf("house_report:h5", booths({ events, reports })), { kind: "ack", alarm: "house_report:h5", text: "late\npeople" });
});

test("what a house reports calls its own booth alone, is shown at every booth, and calls nobody who reported it", () => {
  const reported = alarm({ key: "house_report:h5", kind: "house_report", subject: "h5", level: "watch" });
  const said = event("said", 10, { kind: "report", station: "h5", what: "no_sound", to: null, text: null, by: "Ida" });
  const state = booths({ alarms: [reported], reports: [report()], events: [said] });
  const lines = logLines([], [said]);
  assert.deepEqual(keys(alarmsHere(state, lines, { booth: "North", me: null })), ["house_report:h5"]);
  assert.deepEqual(keys(alarmsThatSound(state, lines, { booth: "North", me: null })), []);
  assert.deepEqual(keys(alarmsThatSound(state, lines, { booth: "South", me: null })), ["house_report:h5"]);
  assert.deepEqual(alarmsThatSound(state, logLines(withTap([], said), [said]), { booth: "South", me: null }), []);
  const more = { ...state, reports: [report(), report({ what: "people", by: "Bo" })] };
  const both = logLines(withTap([], said), [said, event("more", 11, { kind: "report", station: "h5", what: "people", to: null, text: null, by: "Bo" })]);
  assert.deepEqual(keys(alarmsThatSound(more, both, { booth: "South", me: null })), ["house_report:h5"]);
});

test("what somebody says stands first in its own words, and a call is about no film", () => {
  assert.deepEqual(wordsOf(ringing("North")), ["Call to booth North: Ready? (Ines)", ""]);
  assert.deepEqual(wordsOf(alarm({ kind: "house_report" })), ["House 3: the motor stopped", "Stop the chain."]);
  assert.deepEqual(wordsOf(alarm()), ["Stop the chain.", "House 3: the motor stopped"]);
  assert.deepEqual([isSaid(ringing("North")), isSaid(alarm())], [true, false]);
  assert.equal(levelBySubject([ringing("chain")]).size, 0);
  assert.equal(wentOffAlone(ringing("North")), "Taken back, not acknowledged");
  assert.equal(wentOffAlone(alarm({ kind: "house_report" })), "Taken back, not acknowledged");
});

test("an ask for a hold that is not held is not called seen to", () => {
  const asked = report({ what: "other", text: "Please hold the start 5 minutes" });
  assert.deepEqual(
    waysToBeOver([asked]).map(({ label }) => label),
    ["Not held"],
  );
  assert.deepEqual(
    waysToBeOver([asked, report()]).map(({ label }) => label),
    ["Not held", "Seen to: no sound"],
  );
});

test("what is wrong in a house is seen to by one touch, each thing by its own where there are several", () => {
  const reports = [report(), report({ what: "people", over_s: 90 }), report({ station: "h3" })];
  assert.deepEqual(waysToBeOver(openAt(reports, "h5")), [{ label: "Seen to", done: { kind: "report_over", station: "h5", what: "no_sound" } }]);
  const several = openAt([report(), report({ what: "unsteady" })], "h5");
  assert.deepEqual(
    waysToBeOver(several).map(({ label }) => label),
    ["Seen to: no sound", "Seen to: picture unsteady"],
  );
  assert.deepEqual([{ what: /** @type {const} */ ("no_sound"), text: "left side" }, { what: /** @type {const} */ ("people") }].map(troubleInWords), [
    "no sound (left side)",
    "trouble among the people",
  ]);
});
