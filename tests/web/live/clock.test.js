// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { RunClock, offsetAndDelay } from "../../../web/js/live/clock.js";
import { SteadyClock } from "../../../web/js/live/steady.js";

/** @param {number} found @param {number} wanted */
const near = (found, wanted) => assert.ok(Math.abs(found - wanted) < 1e-9, `${found} is not ${wanted}`);

// RFC 5905, 8, with the worked figures of the design's check values (derived from it).
test("offset and delay are those of RFC 5905", () => {
  assert.deepEqual(offsetAndDelay(0, 50, 50, 100), { offset_s: 0, delay_s: 100 });
  const shifted = offsetAndDelay(100, 100.15, 100.151, 100.101);
  near(shifted.offset_s, 0.1);
  near(shifted.delay_s, 0.1);
});

test("half the difference of the two ways stays in the offset, and within the uncertainty", () => {
  const { offset_s, delay_s } = offsetAndDelay(0, 0.13, 0.131, 0.101);
  near(offset_s, 0.08);
  assert.ok(Math.abs(offset_s - 0.1) <= delay_s / 2);
});

test("the sample with the least delay is believed", () => {
  const clock = new RunClock(1);
  clock.answer(0, 2, 11); // 2 s there and back: offset 10
  clock.answer(5, 5.1, 25.05); // 0.1 s: offset 20
  near(clock.now_s(6), 26);
});

// RFC 5905, 7.2: PHI is 15 ppm (from memory). A sample 0.1 s better is as good as one 0.05 s / 15 ppm = 3333 s younger.
test("an old sample gives way to a worse one once the clocks may have parted by more", () => {
  const clock = new RunClock(1);
  clock.answer(0, 0.1, 10.05); // offset 10, delay 0.1
  clock.answer(3000, 3000.2, 3020.1); // offset 20, delay 0.2
  near(clock.now_s(3001), 3011);
  clock.answer(3400, 3400.2, 3420.1);
  near(clock.now_s(3401), 3421);
});

test("the uncertainty is half the delay and what two clocks part by since", () => {
  const clock = new RunClock(1);
  assert.equal(clock.uncertainty_s(0), Infinity);
  clock.answer(0, 0.1, 10.05);
  near(clock.uncertainty_s(0.1), 0.05);
  near(clock.uncertainty_s(1000.1), 0.05 + 0.015);
});

test("a demonstration's clock goes at its speed, and so does its uncertainty", () => {
  const clock = new RunClock(20);
  clock.answer(10, 10, 200);
  near(clock.now_s(11), 220);
  clock.forget();
  clock.answer(10, 10.1, 201);
  near(clock.uncertainty_s(10.1), 1);
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

test("a connection that comes back goes on from what the last one measured, until it has measured itself", () => {
  const clock = new RunClock(1);
  clock.answer(0, 0.1, 10.05);
  clock.hold(100);
  clock.told(101, 0);
  near(clock.now_s(102), 112);
  clock.answer(103, 103, 203);
  near(clock.now_s(104), 204);
});

test("a page that is loaded without the server goes on by the device's clock, eleven minutes wrong or not", () => {
  for (const wrong_s of [0, 660, -660]) {
    const before = new RunClock(1);
    before.answer(50, 50.1, 60.05); // the run's clock is 10 s ahead of the page's
    const kept = before.keep(51, 1_000_051 + wrong_s);
    assert.ok(kept);
    const after = new RunClock(1);
    after.restore(kept, 2, 1_000_151 + wrong_s); // 100 s later, in a page that began at another zero
    near(Math.round(after.now_s(3) * 1e6) / 1e6, 162);
    near(Math.round(after.uncertainty_s(2) * 1e9) / 1e9, 0.05 + 0.9 * 15e-6 + 0.01);
  }
});

test("a device's clock that went back while the page was closed is doubted by as much", () => {
  const before = new RunClock(1);
  before.answer(0, 0, 10);
  const kept = before.keep(0, 1000);
  assert.ok(kept);
  const after = new RunClock(1);
  after.restore(kept, 0, 700);
  near(after.uncertainty_s(0), 300);
});

/** Two clocks of a device that go on when they are told to. */
function device() {
  const made = { even_ms: 0, set_ms: 1e12, now_ms: () => made.even_ms, wall_ms: () => made.set_ms };
  const pass = (/** @type {number} */ ms) => {
    made.even_ms += ms;
    made.set_ms += ms;
  };
  return { made, pass };
}

test("a clock that is set while the page is open moves nothing, and is noticed", () => {
  const { made, pass } = device();
  const clock = new SteadyClock(made);
  pass(1000);
  made.set_ms += 660_000;
  assert.equal(clock.now_ms(), 1000);
  assert.equal(clock.stepped_s, 660);
  made.set_ms -= 1_320_000;
  pass(500);
  assert.equal(clock.now_ms(), 1500);
});

test("a device that slept out of sight has let time pass, though its even clock stood still", () => {
  const { made, pass } = device();
  const clock = new SteadyClock(made);
  pass(1000);
  clock.hidden();
  made.set_ms += 600_000;
  assert.equal(clock.now_ms(), 601_000);
  made.set_ms += 600_000;
  assert.equal(clock.now_ms(), 601_000);
});

test("a clock that is set once the page was seen again is no sleep", () => {
  const { made, pass } = device();
  const clock = new SteadyClock(made);
  clock.hidden();
  made.set_ms += 600_000;
  clock.seen();
  assert.equal(clock.now_ms(), 600_000);
  clock.hidden();
  pass(1000);
  clock.seen();
  made.set_ms += 600_000;
  assert.equal(clock.now_ms(), 601_000);
  assert.equal(clock.stepped_s, 600);
});
