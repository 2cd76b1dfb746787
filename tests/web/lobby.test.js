// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { houseLines, nextInWords, showingInWords } from "../../web/js/lobby.js";
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
