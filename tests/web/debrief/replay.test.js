// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { KnownStates, Playhead, Seeker, runStateFrom } from "../../../web/js/debrief/replay.js";
import { snapshot } from "../shows.js";

/** @param {number} at_s @param {number | null} next_s @returns {import("../../../web/js/wire.js").StateAt} */
function state(at_s, next_s) {
  return { at_s, clock: "now", version: 1, view: snapshot().view, last_seq: 3, next_s };
}

test("a run goes on at its speed, from where it was, and no further than its end", () => {
  const head = new Playhead({ from_s: -10, to_s: 100 });
  assert.equal(head.at(50), -10);
  head.setSpeed(20, 50);
  head.play(50);
  assert.equal(head.at(52), 30);
  head.setSpeed(1, 52);
  assert.equal(head.at(53), 31);
  head.pause(53);
  assert.equal(head.at(99), 31);
  head.play(60);
  assert.deepEqual([head.at(1000), head.isOver(1000)], [100, true]);
});

test("at its end it plays from the start again, and a jump stays inside of the run", () => {
  const head = new Playhead({ from_s: 0, to_s: 100 });
  head.jump(500, 0);
  assert.equal(head.at(0), 100);
  head.play(1);
  assert.equal(head.at(1), 0);
  head.setSpan({ from_s: 0, to_s: 5 }, 3);
  assert.equal(head.at(3), 5);
});

test("a state holds until something changes, and at its own instant always", () => {
  const known = new KnownStates();
  known.keep(state(10, 20));
  known.keep(state(0, 5));
  known.keep(state(20, 20));
  known.keep(state(30, null));
  assert.deepEqual(
    [-1, 0, 4.9, 5, 10, 19.9, 20, 21, 30, 9999].map((at_s) => known.at(at_s)?.at_s ?? null),
    [null, 0, 0, null, 10, 10, 20, null, 30, 30],
  );
  for (let at_s = 100; at_s < 2000; at_s += 1) known.keep(state(at_s, at_s + 1));
  assert.ok(known.states.length <= 600);
  assert.ok(known.states.every((each, place, all) => place === 0 || (all[place - 1]?.at_s ?? 0) < each.at_s));
});

/** A server that answers when it is told to. */
function conversation() {
  /** @type {{at_s: number, answer: (state: import("../../../web/js/wire.js").StateAt) => void, refuse: (error: Error) => void}[]} */
  const asked = [];
  /** @type {[number, number][]} */
  const shown = [];
  /** @type {string[]} */
  const failed = [];
  const seeker = new Seeker(
    (at_s) => new Promise((answer, refuse) => asked.push({ at_s, answer, refuse })),
    (each, at_s) => shown.push([each.at_s, at_s]),
    (error) => failed.push(error instanceof Error ? error.message : ""),
  );
  return { asked, shown, failed, seeker };
}

const settled = () => new Promise((resolve) => setImmediate(resolve));

test("a finger that scrubs faster than the server answers is asked for once at a time, and its last place is shown", async () => {
  const { asked, shown, seeker } = conversation();
  for (const at_s of [1, 2, 3, 4]) seeker.seek(at_s);
  assert.deepEqual(
    asked.map(({ at_s }) => at_s),
    [1],
  );
  asked[0]?.answer(state(1, 1.5));
  await settled();
  assert.deepEqual(
    asked.map(({ at_s }) => at_s),
    [1, 4],
  );
  asked[1]?.answer(state(4, 6));
  await settled();
  assert.deepEqual(shown, [
    [1, 1],
    [4, 4],
  ]);
  seeker.seek(5.5);
  assert.deepEqual(shown[2], [4, 5.5]);
  assert.equal(asked.length, 2);
});

test("what is likely wanted next is asked ahead, behind what is wanted now", async () => {
  const { asked, shown, seeker } = conversation();
  seeker.seek(1);
  seeker.prepare([10, 20]);
  asked[0]?.answer(state(1, 2));
  await settled();
  assert.deepEqual(
    asked.map(({ at_s }) => at_s),
    [1, 10],
  );
  seeker.seek(15);
  asked[1]?.answer(state(10, 12));
  await settled();
  assert.equal(asked[2]?.at_s, 15);
  assert.deepEqual(shown, [[1, 1]]);
});

test("what was asked before everything changed is not shown, and is asked again", async () => {
  const { asked, shown, seeker } = conversation();
  seeker.seek(1);
  seeker.forget();
  asked[0]?.answer(state(1, 9));
  await settled();
  assert.deepEqual(shown, []);
  asked[1]?.answer(state(1, 5));
  await settled();
  assert.deepEqual(shown, [[1, 1]]);
});

test("a question that fails is told, and the next one is asked", async () => {
  const { asked, shown, failed, seeker } = conversation();
  seeker.seek(1);
  asked[0]?.refuse(new Error("No word from the server."));
  await settled();
  assert.deepEqual(failed, ["No word from the server."]);
  seeker.seek(2);
  asked[1]?.answer(state(2, 3));
  await settled();
  assert.deepEqual(shown, [[2, 2]]);
});

test("the wall's elements take a state of the past as they take a live one", () => {
  const { info, view } = snapshot();
  const run = runStateFrom(state(1, 2), info);
  assert.deepEqual([run.seq, run.stations, run.links, run.fault], [3, view.stations, view.links, null]);
});
