// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { deviceShelf, keep, keptAfter, keptNames, keptOf, toggled } from "../../../web/js/threading/keeping.js";
import { checksLeft, leftInWords, minutesInWords, paceInWords, progressOf } from "../../../web/js/threading/progress.js";

/** @typedef {import("../../../web/js/wire.js").ThreadingList} ThreadingList */

const ZERO = "2026-03-14T23:50:00Z";
const MIN = 60;

/** @param {string} key @param {number} number @param {number} people @param {number} minutes @param {number} begins_min after the lacing began */
function step(key, number, people, minutes, begins_min) {
  return { key, where: `House ${key}`, what: "Lace", number, people, minutes, begins_s: -45 * MIN + begins_min * MIN, caution: null };
}

/** Two stretches by a pair, three machines by one each, and a last splice: 4 + 6 + 4 + 2 minutes. @param {Partial<ThreadingList>} [given] @returns {ThreadingList} */
function list(given = {}) {
  return {
    name: "night",
    base: "b1",
    title: "Night",
    site: "",
    zero: ZERO,
    timezone: "UTC",
    saved_at: "2026-03-14T20:00:00Z",
    saved_by: "Ada",
    now: "2026-03-14T23:05:00Z",
    against: 0,
    crew: 2,
    minutes: 16,
    begin_s: -45 * MIN,
    ready_s: -15 * MIN,
    leader_ft: 900,
    steps: [step("a", 1, 2, 4, 0), step("b", 2, 2, 6, 4), step("c", 3, 1, 2, 10), step("d", 4, 1, 2, 10), step("e", 5, 1, 2, 12), step("f", 6, 1, 2, 14)],
    marks: [{ key: "m", where: "House 1", what: "tape mark" }],
    machines: [{ key: "l", where: "House 1", what: "Loop at rest" }],
    cues: [],
    rule: "",
    cautions: [],
    ...given,
  };
}

/** @param {number} minutes after the motors' time */
function at(minutes) {
  return Date.parse(ZERO) + minutes * MIN * 1000;
}

/** @param {Record<string, number>} ticks minutes after the motors' time, by key */
function ticked(ticks) {
  return Object.fromEntries(Object.entries(ticks).map(([key, minutes]) => [key, at(minutes)]));
}

/** A store that may be full. @param {Record<string, string>} [items] */
function shelf(items = {}, full = false) {
  const kept = new Map(Object.entries(items));
  return {
    get length() {
      return kept.size;
    },
    key: (/** @type {number} */ place) => [...kept.keys()][place] ?? null,
    getItem: (/** @type {string} */ key) => kept.get(key) ?? null,
    setItem: (/** @type {string} */ key, /** @type {string} */ value) => {
      if (full) throw new Error("full");
      kept.set(key, value);
    },
  };
}

test("with nothing done all of it is left, as the plan has it", () => {
  const { done, all, next, left_s } = progressOf(list(), {}, at(-60));
  assert.deepEqual([done, all, next, left_s], [0, 6, ["a"], 16 * MIN]);
});

test("two people do two machines at once, and the last splice waits for all of them", () => {
  const ticks = ticked({ a: -41, b: -35 });
  const { next, left_s } = progressOf(list(), ticks, at(-35));
  assert.deepEqual([next, left_s], [["c", "d"], 6 * MIN]);
  assert.deepEqual(progressOf(list(), { ...ticks, ...ticked({ c: -33, e: -33 }) }, at(-33)).next, ["d"]);
});

test("steps may be done in any order: what is next is the first that is not", () => {
  const { done, next } = progressOf(list(), ticked({ f: -40, b: -40 }), at(-40));
  assert.deepEqual([done, next], [2, ["a"]]);
});

test("a step that is under way takes the rest of its time, and one that goes on longer is not done before now", () => {
  const ticks = ticked({ a: -41 });
  assert.equal(progressOf(list(), ticks, at(-38)).left_s, 9 * MIN);
  assert.equal(progressOf(list(), ticks, at(-20)).left_s, 6 * MIN);
  assert.equal(progressOf(list(), ticks, at(-20)).end_s, -14 * MIN);
});

test("all done is nothing left", () => {
  const ticks = ticked({ a: -41, b: -35, c: -33, d: -33, e: -31, f: -29 });
  const progress = progressOf(list(), ticks, at(-10));
  assert.deepEqual([progress.left_s, progress.next, leftInWords(progress)], [0, [], ""]);
  assert.deepEqual(paceInWords(list(), ticks, progress, at(-10)), { level: "well", text: "Laced at 23:21. Two things are left to check." });
  const all = { ...ticks, ...ticked({ m: -9, l: -8 }) };
  assert.equal(checksLeft(list(), all), 0);
  assert.equal(paceInWords(list(), all, progressOf(list(), all, at(-7)), at(-7)).text, "Laced at 23:21. Everything is checked.");
});

test("whether the crew is in time is said in one sentence", () => {
  /** @type {[number, Record<string, number>, string, string][]} */
  const told = [
    [-60, {}, "well", "Begin by 23:05, in 15 min: ready by 23:35."],
    [-3000, {}, "well", "Begin by 23:05: ready by 23:35."],
    [-40, {}, "well", "Begin now: laced at about 23:26, 9 min to spare. Ready by 23:35."],
    [-40, { a: -40 }, "well", "On time: laced at about 23:22, 13 min to spare. Ready by 23:35."],
    [-27, { a: -27 }, "well", "Just in time: laced at about 23:35. Ready by 23:35."],
    [-20, { a: -20 }, "late", "Late by 7 min: laced at about 23:42, to be ready by 23:35. Motors at 23:50."],
    [600, { a: -41, b: -35, c: -33, d: -33, e: -31, f: -29 }, "late", "The time of this show is past: it was to be ready at 23:35. Is it the right plan?"],
    [600, { a: -20 }, "late", "The time of this show is past: it was to be ready at 23:35. Is it the right plan?"],
  ];
  for (const [now, ticks, level, text] of told) {
    const done = ticked(ticks);
    assert.deepEqual(paceInWords(list(), done, progressOf(list(), done, at(now)), at(now)), { level, text });
  }
});

test("minutes are whole, and a step under one is told in seconds", () => {
  assert.deepEqual([0.5, 0.999, 1, 2.4].map(minutesInWords), ["30 s", "1 min", "1 min", "2 min"]);
  assert.equal(leftInWords({ done: 0, all: 1, next: [], left_s: 61, end_s: 0 }), "2 min left");
});

test("a tick is made and taken back", () => {
  const kept = keptAfter(null, list(), at(-45));
  const once = toggled(kept, "a", at(-40));
  assert.deepEqual(once.ticks, ticked({ a: -40 }));
  assert.deepEqual(toggled(once, "a", at(-39)).ticks, {});
  assert.deepEqual(kept.ticks, {});
});

test("the same list told again changes no tick, and says nothing", () => {
  const kept = toggled(keptAfter(null, list(), at(-45)), "a", at(-40));
  const again = keptAfter(kept, list({ now: "2026-03-14T23:06:00Z" }), at(-44) - 120_000);
  assert.deepEqual([again.ticks, again.notice, again.changed], [kept.ticks, "", []]);
  assert.deepEqual([again.heard_ms, again.ahead_ms], [at(-44), 120_000]);
});

test("of a changed plan the ticks of what is the same stay, and what is another is marked", () => {
  const kept = ["a", "b", "m"].reduce((each, key) => toggled(each, key, at(-30)), keptAfter(null, list(), at(-45)));
  const steps = list().steps.map((each) => (each.key === "b" ? { ...each, key: "b2" } : each));
  const changed = keptAfter(kept, list({ base: "b2", steps, saved_at: "2026-03-14T23:25:00Z", saved_by: "Bo" }), at(-25));
  assert.deepEqual([Object.keys(changed.ticks), changed.changed], [["a", "m"], ["b2"]]);
  assert.equal(
    changed.notice,
    "The plan was changed at 23:25 by Bo. One thing is another or new, marked “Changed”. Two ticks stay. One tick was of what is not the same any more: look at it again.",
  );
  assert.deepEqual(toggled(changed, "b2", at(-24)).changed, []);
  const later = keptAfter(changed, { ...changed.list, now: "2026-03-14T23:26:00Z" }, at(-24));
  assert.deepEqual([later.notice, later.changed], [changed.notice, ["b2"]]);
});

test("a plan that was saved with the same steps keeps every tick", () => {
  const kept = toggled(keptAfter(null, list(), at(-45)), "a", at(-40));
  const { ticks, notice, changed } = keptAfter(kept, list({ base: "b2", title: "Another" }), at(-39));
  assert.deepEqual([ticks, changed], [kept.ticks, []]);
  assert.equal(notice, "The plan was changed at 20:00 by Ada. Every step is the same. One tick stays.");
});

test("what is not to be done any more is said too", () => {
  const kept = toggled(keptAfter(null, list(), at(-45)), "f", at(-40));
  const { notice } = keptAfter(kept, list({ base: "b2", steps: list().steps.slice(0, 5) }), at(-39));
  assert.match(notice, /Some of it is not to be done any more\. One tick was of what is not the same any more/);
});

test("a list that is another by its site file says so, without a name that did not do it", () => {
  const kept = keptAfter(null, list(), at(-45));
  const { notice } = keptAfter(kept, list({ steps: [step("z", 1, 2, 4, 0), ...list().steps.slice(1)] }), at(-39));
  assert.match(notice, /^What this list is made of was changed\. One thing is another or new/);
});

test("a plan of another day begins anew: last night's ticks lace nothing tonight", () => {
  const kept = toggled(keptAfter(null, list(), at(-45)), "a", at(-40));
  const other = list({ base: "b2", zero: "2026-03-15T23:50:00Z", now: "2026-03-15T23:00:00Z" });
  const { ticks, notice } = keptAfter(kept, other, at(1395));
  assert.deepEqual(ticks, {});
  assert.equal(notice, "This plan is of another show now: Sunday 15 March, motors at 23:50. The ticks of the show before are taken back.");
  assert.deepEqual(keptAfter(kept, list({ base: "b3", zero: "2026-03-15T00:50:00Z" }), at(-30)).ticks, kept.ticks);
});

test("what is kept comes back, and what an earlier page kept otherwise does not", () => {
  const place = shelf({ "festoon.threading.odd": "{", "festoon.threading.old": JSON.stringify({ ticks: {}, list: {} }), "festoon.by": "Ada" });
  const kept = toggled(keptAfter(null, list(), at(-45)), "a", at(-40));
  assert.equal(keep(place, "night", kept), true);
  assert.deepEqual(keptOf(place, "night"), kept);
  assert.deepEqual([keptOf(place, "odd"), keptOf(place, "old"), keptOf(place, "none")], [null, null, null]);
  assert.deepEqual(keptNames(place), [{ name: "night", title: "Night", when: "Saturday 14 March" }]);
});

test("a device that keeps nothing says so", () => {
  assert.equal(keep(shelf({}, true), "night", keptAfter(null, list(), at(-45))), false);
  Object.defineProperty(globalThis, "localStorage", { configurable: true, get: () => assert.fail("forbidden") });
  const none = deviceShelf();
  assert.equal(keep(none, "night", keptAfter(null, list(), at(-45))), false);
  assert.deepEqual([keptOf(none, "night"), keptNames(none)], [null, []]);
});
