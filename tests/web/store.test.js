// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { stateAfter } from "../../web/js/store.js";
import { alarm, snapshot } from "./shows.js";

test("a change renews what it tells of its namesakes and leaves the rest", () => {
  const before = stateAfter(null, snapshot());
  const after = stateAfter(before, { type: "change", seq: 8, now_s: 101, stations: [{ id: "h5", phase: "showing" }] });
  assert.deepEqual(after?.stations[1], { ...before?.stations[1], phase: "showing" });
  assert.equal(after?.stations[0], before?.stations[0]);
  assert.deepEqual(after?.stations.map(({ id, phase }) => [id, phase]), [
    ["h3", "rolling"],
    ["h5", "showing"],
  ]);
  assert.equal(before?.stations[1]?.phase, "rolling");
});

test("an alarm that is gone is dropped, a new one comes in", () => {
  const on = stateAfter(stateAfter(null, snapshot()), { type: "change", seq: 8, now_s: 1, alarms: [alarm()] });
  assert.equal(on?.alarms.length, 1);
  assert.deepEqual(stateAfter(on, { type: "change", seq: 9, now_s: 2, gone: ["motor_lost:h3"] })?.alarms, []);
});

test("a missed change asks for a snapshot, by a later change or by a beat", () => {
  const state = stateAfter(null, snapshot());
  assert.equal(stateAfter(state, { type: "change", seq: 9, now_s: 1 }), null);
  assert.equal(stateAfter(state, { type: "beat", seq: 8, now_s: 1 }), null);
});

test("a change that is in already, and a beat, leave the state as it is", () => {
  const state = stateAfter(null, snapshot());
  assert.equal(stateAfter(state, { type: "change", seq: 7, now_s: 1, alarms: [alarm()] }), state);
  assert.equal(stateAfter(state, { type: "beat", seq: 7, now_s: 1 }), state);
});

test("nothing can be made of a change before any snapshot", () => {
  assert.equal(stateAfter(null, { type: "change", seq: 1, now_s: 0 }), null);
});
