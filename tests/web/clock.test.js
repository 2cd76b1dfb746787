// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { RunClock, offsetAndDelay } from "../../web/js/clock.js";

/** @param {number} found @param {number} wanted */
const near = (found, wanted) => assert.ok(Math.abs(found - wanted) < 1e-9, `${found} is not ${wanted}`);

// RFC 5905, 8, with the worked figures of the design's check values (derived from it).
test("offset and delay are those of RFC 5905", () => {
  assert.deepEqual(offsetAndDelay(0, 50, 50, 100), { offset_s: 0, delay_s: 100 });
  const shifted = offsetAndDelay(100, 100.15, 100.151, 100.101);
  near(shifted.offset_s, 0.1);
  near(shifted.delay_s, 0.1);
});

test("half the difference of the two ways stays in the offset", () => {
  near(offsetAndDelay(0, 0.13, 0.131, 0.101).offset_s, 0.08);
});

test("the sample with the least delay is believed", () => {
  const clock = new RunClock(1);
  clock.answer(0, 2, 11); // 2 s there and back: offset 10
  clock.answer(5, 5.1, 25.05); // 0.1 s: offset 20
  near(clock.now_s(6), 26);
});

test("a demonstration's clock goes at its speed", () => {
  const clock = new RunClock(20);
  clock.answer(10, 10, 200);
  near(clock.now_s(11), 220);
});

test("until the first answer any message tells the time, and afterwards none does", () => {
  const clock = new RunClock(1);
  clock.told(5, 105);
  near(clock.now_s(6), 106);
  clock.answer(6, 6, 107);
  near(clock.now_s(6), 107);
  clock.told(7, 0);
  near(clock.now_s(7), 108);
});
