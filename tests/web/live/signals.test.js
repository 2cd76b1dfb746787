// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { Caller, SIGNALS } from "../../../web/js/live/signals.js";
import { alarm } from "../shows.js";

const nobody = new Set();
const act = alarm();
const watch = alarm({ key: "slack_loose:h3>h5", level: "watch" });

test("act calls again every four seconds until somebody acknowledges it", () => {
  const caller = new Caller();
  assert.equal(caller.next([act], nobody, 0), "act");
  assert.equal(caller.next([act], nobody, 3999), null);
  assert.equal(caller.next([act], nobody, 4000), "act");
  assert.equal(caller.next([{ ...act, state: "acknowledged" }], nobody, 8000), null);
});

test("an acknowledgement that still waits to be sent quietens this desk at once", () => {
  assert.equal(new Caller().next([act], new Set([act.key]), 0), null);
});

test("watch calls once, and again if it comes again", () => {
  const caller = new Caller();
  assert.equal(caller.next([watch], nobody, 0), "watch");
  assert.equal(caller.next([watch], nobody, 9000), null);
  assert.equal(caller.next([], nobody, 10_000), null);
  assert.equal(caller.next([watch], nobody, 11_000), "watch");
});

test("a watch that comes up during an act calls once after it, and one that had called or went meanwhile does not", () => {
  const caller = new Caller();
  const [early, gone] = [
    { ...watch, key: "early" },
    { ...watch, key: "gone" },
  ];
  assert.equal(caller.next([early], nobody, 0), "watch");
  assert.equal(caller.next([early, act, gone, watch], nobody, 1000), "act");
  assert.equal(caller.next([early, act, watch], nobody, 2000), null);
  assert.equal(caller.next([early, watch], nobody, 3000), "watch");
  assert.equal(caller.next([early, watch], nobody, 4000), null);
  assert.equal(caller.next([early, act], nobody, 5000), "act");
  assert.equal(caller.next([early], nobody, 6000), null);
});

test("what is shelved, went off by itself, only follows or is a note calls nobody", () => {
  const quiet = [{ ...act, shelved_until_s: 900 }, { ...act, state: /** @type {const} */ ("returned") }, { ...act, told: false }, alarm({ level: "note" })];
  for (const each of quiet) assert.equal(new Caller().next([each], nobody, 0), null);
});

test("what people say rings every four seconds until somebody has it, and the next rings at once", () => {
  const caller = new Caller();
  const call = alarm({ key: "call:North", kind: "call", level: "watch" });
  assert.deepEqual(
    [0, 3999, 4000].map((now_ms) => caller.next([call], nobody, now_ms)),
    ["call", null, "call"],
  );
  assert.equal(caller.next([call], new Set([call.key]), 4250), null);
  assert.equal(caller.next([call], nobody, 4500), "call");
  assert.equal(caller.next([], nobody, 9000), null);
});

test("a watch that comes up while a call rings is told once between, and an act is told instead", () => {
  const caller = new Caller();
  const report = alarm({ key: "house_report:h3", kind: "house_report", level: "watch" });
  assert.equal(caller.next([report], nobody, 0), "call");
  assert.equal(caller.next([report, watch], nobody, 250), "watch");
  assert.equal(caller.next([report, watch], nobody, 4000), "call");
  assert.equal(caller.next([report, act], nobody, 8000), "act");
  assert.equal(caller.next([{ ...report, level: "act" }], nobody, 12_000), "act");
});

test("the two can be told apart by pitch, by number and by hand", () => {
  const pitches = (/** @type {"act" | "watch"} */ level) => SIGNALS[level].tones.map(({ hz }) => hz);
  assert.ok(Math.min(...pitches("act")) >= 2 * Math.max(...pitches("watch")));
  assert.ok(SIGNALS.act.tones.length >= 3 * SIGNALS.watch.tones.length);
  assert.ok(SIGNALS.act.shake_ms.length > SIGNALS.watch.shake_ms.length);
});
