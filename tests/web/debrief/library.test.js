// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { refreshed } from "../../../web/js/debrief/library.js";

/** @param {string} names @param {number} [events] */
const lines = (names, events = 0) => [...names].map((run) => ({ run, events }));

test("where more pages are shown the first one goes on being followed, and the others stay below it", () => {
  const shown = { runs: lines("abcd"), following: "after d" };
  assert.deepEqual(refreshed(shown, { runs: lines("ab", 7), following: "after b" }), { runs: [...lines("ab", 7), ...lines("cd")], following: "after d" });
  const moved = refreshed(shown, { runs: lines("xa", 7), following: "after a" });
  assert.deepEqual(moved, { runs: [...lines("xa", 7), ...lines("bcd")], following: "after d" });
});

test("of one page that is shown, or of none, only what is so now is left", () => {
  const first = { runs: lines("ab", 7), following: "after b" };
  assert.deepEqual(refreshed({ runs: null, following: null }, first), first);
  assert.deepEqual(refreshed({ runs: lines("ab"), following: null }, first), first);
  assert.deepEqual(refreshed({ runs: lines("mn"), following: null }, first), first);
});
