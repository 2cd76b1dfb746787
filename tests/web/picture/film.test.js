// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { countAt, passOf, passSd, printAt, slackAt, slackSdAt, slackShareAt } from "../../../web/js/picture/estimate.js";
import { inksOf, segmentAt, spansBetween, waitingRoll } from "../../../web/js/picture/film.js";
import { loopDepth, loopPoints, pointAt, ringRadii, rowsFrom, tickEvery } from "../../../web/js/picture/loops.js";
import { segments, station } from "../shows.js";

const mark = { id: "t1", title: "One", kind: "trailer", x_s: 40, cue: true, stations: [] };

test("a mark is at a gate when the count is its place plus the film ahead", () => {
  const there = station({ at_s: 100, count_s: 100, rate: 1, ahead_s: 90 });
  assert.equal(passOf(there, mark)?.t_s, 130);
  assert.equal(printAt(there, 130), 40);
  assert.equal(countAt(there, 130), 130);
});

test("an observed pass is not estimated, and a standing motor has none to come", () => {
  assert.deepEqual(passOf(station({ passes: { t1: 41.5 } }), mark), { t_s: 41.5, sd_s: 0, seen: true });
  assert.equal(passOf(station({ rate: 0 }), mark), null);
});

test("the variance of a pass is a + bd + cd² + wd³, over rate²", () => {
  assert.equal(passSd(station({ eta_var: [1, 2, 3, 4], rate: 2 }), 2), Math.sqrt(1 + 4 + 12 + 32) / 2);
});

/** @type {import("../../../web/js/wire.js").Link} */
const LINK = { id: "a>b", at_s: 10, slack_s: 1, drift: -0.01, slack_var: [0, 0, 0, 0], reserve_s: 2, gone_s: null };

test("slack goes on with its drift, and is told as a share of the reserve", () => {
  assert.equal(slackAt(LINK, 110), 0);
  assert.equal(slackShareAt(LINK, 10), 0.5);
});

test("between two gates lie the pieces from the upstream one to the downstream one, leader last", () => {
  const spans = spansBetween(segments, inksOf(segments), 110, -10);
  assert.deepEqual(
    spans.map(({ from, to, segment }) => [from, to, segment?.id]),
    [
      [110, 100, "feature"],
      [100, 40, "t1"],
      [40, 0, "leader"],
      [0, -10, undefined],
    ],
  );
});

test("behind the end of the print there is no film", () => {
  assert.deepEqual(spansBetween(segments, inksOf(segments), 7000, 6500), []);
  assert.equal(segmentAt(segments, 6500), null);
});

test("what waits on the first roll and what has gone make the whole print", () => {
  const waiting = waitingRoll(segments, inksOf(segments), 70).reduce((sum, { from, to }) => sum + from - to, 0);
  assert.equal(waiting, 6100 - 70);
});

test("a loop hangs at half its depth at rest, is flat when taut and on the floor when loose", () => {
  assert.deepEqual(
    [-1, 0, 1].map((share) => loopDepth(share, 100)),
    [0, 50, 100],
  );
  assert.ok(loopPoints(0, 100, 0, 150, 100).every(({ y }) => y <= 100));
});

test("film is measured along the loop: half its way is at its lowest point", () => {
  const points = loopPoints(0, 100, 10, 60, 1000);
  const middle = pointAt(points, 0.5);
  assert.ok(Math.abs(middle.x - 50) < 1e-6 && Math.abs(middle.y - 70) < 1e-6);
  assert.deepEqual([pointAt(points, 0).x, pointAt(points, 1).x], [0, 100]);
});

// Handbook: L = pi (D² - d²) / 4t, so equal lengths take equal areas.
test("a roll's rings have the areas of their lengths", () => {
  const [inner, outer] = ringRadii([10, 10], 20, 3, 5);
  assert.ok(Math.abs((inner ?? 0) ** 2 - 9 - 8) < 1e-9 && outer === 5);
});

test("long chains fold into even rows", () => {
  assert.deepEqual(rowsFrom(9, 1800, 168), [9]);
  assert.deepEqual(rowsFrom(9, 940, 168), [5, 4]);
  assert.deepEqual(rowsFrom(16, 1000, 168), [4, 4, 4, 4]);
  assert.deepEqual(rowsFrom(3, 10, 168), [1, 1, 1]);
});

test("cross lines never stand nearer than the gap", () => {
  for (const pixels_per_s of [0.05, 0.5, 2, 9, 40]) assert.ok(tickEvery(pixels_per_s, 9) * pixels_per_s >= 9);
});

test("how sure slack is counts what jump and drift share, and what a rate wanders by", () => {
  /** @type {import("../../../web/js/wire.js").Link} */
  const link = { ...LINK, slack_var: [0.01, 1e-5, 1e-8, 1e-13] };
  assert.equal(slackSdAt(link, LINK.at_s), 0.1);
  assert.ok(Math.abs(slackSdAt(link, LINK.at_s + 600) - Math.sqrt(0.01 + 0.006 + 0.0036 + 0.0000216)) < 1e-12);
  assert.equal(slackSdAt({ ...link, slack_s: null, drift: null, slack_var: null }, LINK.at_s), 0);
});
