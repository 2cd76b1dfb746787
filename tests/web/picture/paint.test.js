// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { inksOf } from "../../../web/js/picture/film.js";
import { paintRow } from "../../../web/js/picture/paint.js";
import { stateAfter } from "../../../web/js/live/store.js";
import { segments, snapshot, station } from "../shows.js";

/** @typedef {{text: string, y: number}} Name */

/** A canvas that remembers which names were written, and at what height; a letter is eight pixels wide. @param {Name[]} names */
function recorder(names) {
  const known = {
    measureText: (/** @type {string} */ text) => ({ width: 8 * text.length }),
    fillText: (/** @type {string} */ text, /** @type {number} */ _x, /** @type {number} */ y) => names.push({ text, y }),
  };
  const context = new Proxy(/** @type {Record<string, unknown>} */ (known), { get: (own, key) => own[String(key)] ?? (() => undefined) });
  return /** @type {CanvasRenderingContext2D} */ (/** @type {unknown} */ (context));
}

/** The names on a row so high while two pieces begin between its two gates. @param {number} height @param {number | null} [slack_s] of the link @param {import("../../../web/js/wire.js").MarkInfo[]} [marks] */
function namesAt(height, slack_s = 0, marks = snapshot().info.marks) {
  const there = snapshot();
  there.view.links = there.view.links.map((link) => ({ ...link, slack_s }));
  const long = segments.map((segment) => ({ ...segment, title: `${segment.title}, a trailer with a long name` }));
  there.info.segments = long;
  there.info.marks = marks;
  there.view.stations = [station({ count_s: 125 }), station({ id: "h5", count_s: 125, ahead_s: 100 })];
  const state = stateAfter(null, there);
  assert.ok(state);
  const palette = /** @type {import("../../../web/js/picture/paint.js").Palette} */ (new Proxy({}, { get: () => "black" }));
  const row = { first: 0, count: 2, last: true, lead: 90, pitch: 180, width: 500, height };
  /** @type {Name[]} */
  const names = [];
  paintRow(recorder(names), row, { state, t_s: 100, inks: inksOf(long), levels: new Map(), palette, tick_s: 8, type: "sans", film: 11, least: 12 });
  return names;
}

test("a name that would stand above the row is left out, and none is cut", () => {
  assert.equal(namesAt(400).length, 2);
  const low = namesAt(110);
  assert.equal(low.length, 1);
  assert.ok(low.every(({ y }) => y >= 13));
});

test("where the film has a free end nothing hangs, and so no name stands over it", () => {
  assert.equal(namesAt(400, null).length, 0);
});

test("a point of the print where something is changed is named under the loop, and left out where there is no room", () => {
  const change = { id: "flat", title: "Lens to flat", kind: "change", x_s: 70, cue: false, stations: ["h3"] };
  const isNamed = (/** @type {Name[]} */ names) => names.some(({ text }) => text === change.title);
  const names = namesAt(400, 0, [change]);
  assert.equal(names.length, 3);
  assert.equal(Math.max(...names.map(({ y }) => y)), names.find(({ text }) => text === change.title)?.y);
  assert.equal(isNamed(namesAt(400, 2, [change])), false, "the loop lies on the floor");
  assert.equal(isNamed(namesAt(400, 0, [{ ...change, x_s: 300 }])), false, "it has not come to the first gate");
});
