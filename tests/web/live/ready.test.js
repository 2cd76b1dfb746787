// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { askedOf, asksReady, besideReady, isLastMinute, notReady } from "../../../web/js/live/ready.js";
import { missingCount, readyRows, standOf } from "../../../web/js/live/restart.js";
import { logLines, tapEvent, withTap } from "../../../web/js/booth/taps.js";
import { restartCard, runState, snapshot } from "../shows.js";

/** A chain before its first start; house 3 is ready where `by` has said so. @param {string | null} by @returns {import("../../../web/js/wire.js").RestartCard} */
function before(by) {
  return {
    before: "start",
    ready: false,
    start_s: 300,
    stations: [
      { station: "h3", ready_s: by === null ? null : 90, ready_by: by, missing: by === null ? ["ready"] : [] },
      { station: "h5", ready_s: null, ready_by: null, missing: ["ready"] },
    ],
    links: [],
  };
}

test("nobody is asked whether they are ready until somebody has said so, and after a stop everybody is", () => {
  assert.deepEqual([before(null), before("Ines"), restartCard()].map(asksReady), [false, true, true]);
  const alone = askedOf(before(null));
  assert.deepEqual([missingCount(alone), alone.ready, notReady(alone, snapshot().info)], [0, true, ""]);
  assert.deepEqual(standOf(alone, 100), { text: "Starts in", time: "3:20", after: "" });
  assert.deepEqual(standOf(alone, 312), { text: "The start was due", time: "0:12", after: "ago" });
});

test("once one house is ready the others are missing by name", () => {
  const crew = before("Ines");
  assert.equal(askedOf(crew), crew);
  assert.equal(notReady(crew, snapshot().info), "House 5");
  assert.equal(standOf(crew, 100).text, "One thing missing");
  const all = { ...crew, ready: true, stations: crew.stations.map((each) => ({ ...each, ready_s: 95, missing: [] })) };
  assert.equal(notReady(all, snapshot().info), "");
  assert.equal(standOf(all, 100).text, "Ready: starts in");
});

test("what else is missing stands beside who is not ready", () => {
  const crew = before("Ines");
  const lit = { ...crew, stations: crew.stations.map((each) => ({ ...each, missing: [...each.missing, /** @type {const} */ ("lamp_out")] })) };
  assert.deepEqual(
    besideReady(lit).stations.map(({ missing }) => missing),
    [["lamp_out"], ["lamp_out"]],
  );
  assert.deepEqual([besideReady(lit).ready, besideReady(crew).ready], [false, true]);
});

test("the last minute before a start lasts until it is made", () => {
  assert.deepEqual(
    [239, 240, 300, 400].map((now_s) => isLastMinute(before(null), now_s)),
    [false, true, true, true],
  );
  assert.equal(isLastMinute({ ...before(null), start_s: null }, 400), false);
});

test("each station is said to be ready by one touch, which says whether it waits to be sent", () => {
  const state = runState();
  const tap = tapEvent({ kind: "ready", station: "h5" }, state.info.zero, { t_s: 99, sigma_s: 0.3 }, "a");
  const rows = readyRows(before("Ines"), state, logLines(withTap([], tap), []), 100);
  assert.deepEqual(
    rows.map(({ name, ready_by, touch }) => [name, ready_by, touch.isSo, touch.tapped?.state ?? null, touch.done.kind]),
    [
      ["House 3", "Ines", true, null, "ready"],
      ["House 5", null, false, "waiting", "ready"],
    ],
  );
});
