// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { Kept } from "../../../web/js/booth/kept.js";
import { tapEvent, withTap } from "../../../web/js/booth/taps.js";
import { runState } from "../shows.js";

const [tap] = withTap([], tapEvent({ kind: "lamp_lit", station: "h3" }, "2026-03-14T23:50:00Z", { t_s: 1, sigma_s: 0.3 }));
assert.ok(tap);

/** Stands in for a device's store: every request succeeds, and its transaction ends only when it is told to. @param {unknown[]} [pictures] */
function device(pictures = []) {
  /** @type {any[]} */
  const transactions = [];
  /** @param {any} result */
  const request = (result) => {
    const made = {
      result,
      onsuccess: () => {},
      addEventListener: (/** @type {string} */ type, /** @type {() => void} */ act) => type === "success" && queueMicrotask(act),
    };
    queueMicrotask(() => made.onsuccess());
    return made;
  };
  const store = { get: () => request(undefined), getAll: () => request(pictures), put: () => request("a"), delete: () => request(undefined) };
  const transaction = () => {
    transactions.push({ objectStore: () => store, error: null });
    return transactions[transactions.length - 1];
  };
  Object.assign(globalThis, { indexedDB: { open: () => request({ transaction }) } });
  return transactions;
}

const settle = () => new Promise((resolve) => setTimeout(resolve));

test("a tap is kept once its transaction is complete, not before", async () => {
  const transactions = device();
  const kept = new Kept(() => assert.fail("it keeps"));
  let done = false;
  const putting = kept.putTap("r", tap).then(() => (done = true));
  await settle();
  assert.equal(done, false);
  transactions[0].oncomplete();
  await putting;
  assert.equal(kept.works, true);
});

test("a full device that takes a tap and then aborts is said not to keep any", async () => {
  const transactions = device();
  let failures = 0;
  const kept = new Kept(() => (failures += 1));
  const putting = kept.putTap("r", tap);
  await settle();
  transactions[0].error = new DOMException("full", "QuotaExceededError");
  transactions[0].onabort();
  await putting;
  assert.deepEqual([kept.works, failures], [false, 1]);
});

test("the latest picture is given, and none that an earlier desk kept without all that is shown now", async () => {
  const state = runState();
  const { reports, ...before } = state;
  assert.deepEqual(reports, []);
  const transactions = device([
    { run: "r", state, wall_s: 1 },
    { run: "old", state: before, wall_s: 9 },
    { run: "r2", state, wall_s: 5 },
  ]);
  const asking = new Kept(() => assert.fail("it keeps")).picture(null);
  await settle();
  transactions[0].oncomplete();
  assert.equal((await asking)?.run, "r2");
});
