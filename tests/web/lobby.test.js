// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { changeInWords, looked, memoryAt, noMemory } from "../../web/js/changes.js";
import { clockText, houseClock } from "../../web/js/format.js";
import { houseLines, nextInWords, orderFrom, showingInWords } from "../../web/js/lobby.js";
import { stateAfter } from "../../web/js/store.js";
import { snapshot, station } from "./shows.js";

/** @param {import("../../web/js/messages.js").Station[]} stations @param {Record<string, import("../../web/js/messages.js").Input>} [inputs] */
function run(stations, inputs = {}) {
  const state = stateAfter(null, snapshot());
  assert.ok(state);
  const info = { ...state.info, stations: state.info.stations.map((named) => ({ ...named, inputs })) };
  const line = { run: "r", title: "Show", site: null, timezone: "UTC", zero: info.zero, demo: false, fault: null };
  return { line, state: { ...state, info, stations }, schedule: null, now_s: 100 };
}

test("houses stand by their start, whatever their order in the chain", () => {
  const lines = houseLines([run([station({ head_s: 900 }), station({ id: "h5", head_s: 300 })])]);
  assert.deepEqual(lines.map(({ house }) => house), ["5", "3"]);
  assert.equal(nextInWords(lines), "Next: House 5 starts in 3 min");
});

test("a house whose lamp's contact says out does not count as on screen", () => {
  const showing = station({ phase: "showing", head_s: 40, end_s: 7000 });
  const lit = station({ id: "h5", phase: "showing", head_s: 40, end_s: 7000, lamp: "lit" });
  const lines = houseLines([run([showing, lit], { lamp: "contact" })]);
  assert.deepEqual(lines.map(({ state }) => state), ["dark", "showing"]);
  assert.equal(showingInWords(lines), "One of two houses on screen");
});

test("the reader may have the houses by their number, their start or when they let out", () => {
  const made = run([station({ head_s: 300, end_s: 9000 }), station({ id: "h5", head_s: 900, end_s: 7000 })]);
  const ids = (/** @type {import("../../web/js/lobby.js").Order} */ order) => houseLines([made], order).map(({ house }) => house);
  assert.deepEqual([ids("house"), ids("starts"), ids("lets out")], [["3", "5"], ["3", "5"], ["5", "3"]]);
  const tens = { ...made, state: { ...made.state, info: { ...made.state.info, stations: made.state.info.stations.map((named) => ({ ...named, house: named.house === "3" ? "10" : "9" })) } } };
  assert.deepEqual(houseLines([tens], "house").map(({ house }) => house), ["9", "10"]);
  assert.equal(orderFrom("colour"), "starts");
});

/** @param {Partial<import("../../web/js/messages.js").Station>} given */
const lineOf = (given) => {
  const [line] = houseLines([run([station(given)])]);
  assert.ok(line);
  return line;
};

test("a screen that went dark has been so since its lamp went out, and one that never was lit since the picture came", () => {
  const went = station({ phase: "showing", head_s: 40, end_s: 7000, lamp_s: 1240 });
  const never = station({ id: "h5", phase: "showing", head_s: 40, end_s: 7000, lamp_s: null });
  const said = houseLines([run([went, never], { lamp: "contact" })]).map(({ house, now }) => [house, now]);
  const [came, gone] = [clockText(houseClock(snapshot().info), 40), clockText(houseClock(snapshot().info), 1240)];
  assert.deepEqual(new Map(/** @type {[string, string][]} */ (said)), new Map([["3", `screen dark since ${gone}`], ["5", `screen dark since ${came}`]]));
});

test("a house that came on screen, let out later or went dark since the last look says so", () => {
  const { seen } = looked([lineOf({ head_s: 300, end_s: 7000 })]);
  const change = (/** @type {Partial<import("../../web/js/messages.js").Station>} */ given) => {
    const line = lineOf(given);
    return changeInWords(line, seen[line.key]);
  };
  assert.equal(change({ head_s: 300, end_s: 7000 }), "");
  assert.equal(change({ head_s: 359, end_s: 7059 }), "");
  assert.equal(change({ head_s: 480, end_s: 7180 }), "was to start 6:55");
  assert.equal(change({ phase: "showing", head_s: 300, end_s: 7000 }), "came on screen");
  const showing = looked([lineOf({ phase: "showing", head_s: 300, end_s: 7000 })]).seen;
  const later = lineOf({ phase: "showing", head_s: 300, end_s: 7180 });
  assert.equal(changeInWords(later, showing[later.key]), "was to let out 8:46");
  const dark = lineOf({ phase: "showing", head_s: 300, end_s: 7000, douser: "shut" });
  assert.equal(changeInWords(dark, showing[dark.key]), "the screen went dark");
});

test("a change stays marked until it was looked at, or for a quarter of an hour where nobody touches", () => {
  const before = lineOf({ head_s: 300 });
  const after = lineOf({ phase: "showing", head_s: 300 });
  const marked = (/** @type {import("../../web/js/changes.js").Memory} */ memory) => changeInWords(after, memory.seen[after.key]) !== "";
  let memory = memoryAt(noMemory(), [before], 0);
  memory = memoryAt(memory, [after], 1000);
  memory = memoryAt(memory, [after], 1000 + 15 * 60_000 - 1);
  assert.equal(marked(memory), true);
  assert.equal(marked(looked([after])), false);
  assert.equal(marked(memoryAt(memory, [after], 1000 + 15 * 60_000)), false);
});

test("what a page shows first is no change, and a house that is gone is forgotten", () => {
  const after = lineOf({ phase: "showing", head_s: 300 });
  const memory = memoryAt(noMemory(), [after], 0);
  assert.equal(changeInWords(after, memory.seen[after.key]), "");
  assert.deepEqual(memoryAt(memory, [], 1).seen, {});
});

test("what was seen outlives the page as text, also where nothing is known of a time", () => {
  const line = lineOf({});
  const { seen } = looked([line]);
  assert.equal(changeInWords(line, JSON.parse(JSON.stringify(seen))[line.key]), "");
});
