// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { stateAfter } from "../../../web/js/live/store.js";
import { alarm, snapshot } from "../shows.js";

test("a change renews what it tells of its namesakes and leaves the rest", () => {
  const before = stateAfter(null, snapshot());
  const after = stateAfter(before, { type: "change", seq: 8, now_s: 101, stations: [{ id: "h5", phase: "showing" }] });
  assert.deepEqual(after?.stations[1], { ...before?.stations[1], phase: "showing" });
  assert.equal(after?.stations[0], before?.stations[0]);
  assert.deepEqual(
    after?.stations.map(({ id, phase }) => [id, phase]),
    [
      ["h3", "rolling"],
      ["h5", "showing"],
    ],
  );
  assert.equal(before?.stations[1]?.phase, "rolling");
});

test("an alarm that is gone is dropped, a new one comes in", () => {
  const on = stateAfter(stateAfter(null, snapshot()), { type: "change", seq: 8, now_s: 1, alarms: [alarm()] });
  assert.equal(on?.alarms.length, 1);
  assert.deepEqual(stateAfter(on, { type: "change", seq: 9, now_s: 2, gone: ["motor_lost:h3"] })?.alarms, []);
});

test("of an alarm only what is new is told", () => {
  const on = stateAfter(stateAfter(null, snapshot()), { type: "change", seq: 8, now_s: 1, alarms: [alarm()] });
  const seen = stateAfter(on, { type: "change", seq: 9, now_s: 2, alarms: [{ key: alarm().key, state: "acknowledged", acked_by: "Ida" }] });
  assert.deepEqual(seen?.alarms, [{ ...alarm(), state: "acknowledged", acked_by: "Ida" }]);
});

test("prompts come, move and go by key, and stand by deadline, those of one deadline in film order", () => {
  const prompt = (/** @type {string} */ station, /** @type {number} */ due_s) =>
    /** @type {const} */ ({ key: `strike ${station}`, kind: "strike", station, from_s: 0, due_s, text: "Strike", until_s: null, mark: null });
  const three = stateAfter(stateAfter(null, snapshot()), { type: "change", seq: 8, now_s: 1, prompts: [prompt("h5", 20), prompt("h3", 20)] });
  assert.deepEqual(three?.prompts, [prompt("h3", 20), prompt("h5", 20)]);
  const moved = stateAfter(three, { type: "change", seq: 9, now_s: 2, prompts: [{ key: "strike h3", due_s: 30 }] });
  assert.deepEqual(moved?.prompts, [prompt("h5", 20), prompt("h3", 30)]);
  const one = stateAfter(moved, { type: "change", seq: 10, now_s: 3, prompts_gone: ["strike h5"] });
  assert.deepEqual(one?.prompts, [prompt("h3", 30)]);
  assert.equal(stateAfter(one, { type: "change", seq: 11, now_s: 4 })?.prompts, one?.prompts);
});

test("events that were taken together come in one change", () => {
  const event = (/** @type {string} */ id) => ({ id, t: "2026-03-15T00:00:00Z", kind: /** @type {const} */ ("note"), source: "tap" });
  const after = stateAfter(stateAfter(null, snapshot()), { type: "change", seq: 8, now_s: 1, events: [event("a"), event("b")] });
  assert.deepEqual(
    after?.events.map(({ id }) => id),
    ["a", "b"],
  );
});

test("a missed change asks for a snapshot, by a later change or by a beat", () => {
  const state = stateAfter(null, snapshot());
  assert.equal(stateAfter(state, { type: "change", seq: 9, now_s: 1 }), null);
  assert.equal(stateAfter(state, { type: "beat", seq: 8 }), null);
});

test("a change that is in already, and a beat, leave the state as it is", () => {
  const state = stateAfter(null, snapshot());
  assert.equal(stateAfter(state, { type: "change", seq: 7, now_s: 1, alarms: [alarm()] }), state);
  assert.equal(stateAfter(state, { type: "beat", seq: 7, now_s: 1 }), state);
});

test("nothing can be made of a change before any snapshot", () => {
  assert.equal(stateAfter(null, { type: "change", seq: 1, now_s: 0 }), null);
});
