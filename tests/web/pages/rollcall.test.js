// @ts-check

import assert from "node:assert/strict";
import { test } from "node:test";
import { followContacts } from "../../../web/js/pages/contacts.js";
import { inputName, levelText, nextText, remarks, seenText, troubles } from "../../../web/js/pages/rollcall.js";

const HOUSES = new Map([["h3", "3"]]);

/** @param {Partial<import("../../../web/js/wire.js").ContactInput>} [given] @returns {import("../../../web/js/wire.js").ContactInput} */
function input(given = {}) {
  return {
    id: "north/1",
    station: "h3",
    what: "motor",
    on: false,
    closes: 0,
    seen: false,
    edges: 1,
    bounced_ms: 0,
    bounces: false,
    flickers: false,
    instead: [],
    ...given,
  };
}

/** @param {Partial<import("../../../web/js/wire.js").ContactState>} [given] @returns {import("../../../web/js/wire.js").ContactState} */
function state(given = {}) {
  return { on: true, asked: null, result: "Roll call: …", strays: [], feeds: [], inputs: [input()], ...given };
}

test("an input is named by its house, and by its station where that is not known", () => {
  assert.equal(inputName(input(), HOUSES), "House 3, motor");
  assert.equal(inputName(input({ what: "cue", station: "h9" }), HOUSES), "House h9, cue detector");
});

test("a level that is not known is not called off", () => {
  assert.deepEqual(
    [null, true, false].map((on) => levelText(input({ on }))),
    ["not known", "on", "off"],
  );
});

test("an input is seen once it has closed and opened", () => {
  const inputs = [input(), input({ closes: 1 }), input({ closes: 1, seen: true })];
  assert.deepEqual(inputs.map(seenText), ["missing", "closed, not opened yet", "✓ seen"]);
});

test("what moved instead and what bounces is said with what to do", () => {
  assert.deepEqual(remarks(input({ instead: ["lamp of House 3 (north/7)"], bounces: true, edges: 9, bounced_ms: 31.4, flickers: true })), [
    "The lamp of House 3 (north/7) moved instead: see which wire is which.",
    "Bounces: 9 edges in 31 ms. See to the contact and its wire.",
    "Flickers: it changed more often than it can. See to the contact and its wire.",
  ]);
  assert.deepEqual(remarks(input()), []);
});

test("the next thing to do names the input that is asked for", () => {
  assert.equal(nextText(state({ asked: "north/1" }), HOUSES), "Close House 3, motor (north/1), and open it again. 1 to go.");
  assert.equal(nextText(state(), HOUSES), "Close each contact and open it again, in any order. 1 to go.");
  assert.equal(nextText(state({ on: false, result: null }), HOUSES), "No roll call is on.");
  assert.equal(nextText(state({ on: false, inputs: [input({ seen: true })] }), HOUSES), "Every input was seen.");
});

test("that all were seen is not all that there is to say where one moved for another", () => {
  const inputs = [input({ seen: true, instead: ["lamp of House 3 (north/7)"] })];
  assert.equal(nextText(state({ on: false, inputs }), HOUSES), "Every input was seen; one was taken for another.");
});

test("a port that is not there and a wire that nothing is said of are told", () => {
  const feeds = [
    { id: "north", kind: "text", port: "x", fault: "x was unplugged or closed", sampling_ms: 0, seen_sampling_ms: null },
    { id: "south", kind: "text", port: "y", fault: null, sampling_ms: 100, seen_sampling_ms: 110 },
    { id: "east", kind: "modbus", port: "z", fault: null, sampling_ms: 0, seen_sampling_ms: 500 },
  ];
  assert.deepEqual(troubles(state({ feeds, strays: ["south/9"] })), [
    "north: x was unplugged or closed",
    "east: its contacts change on a tick of about 500 ms. Write sampling_ms = 500 for it in the wiring file.",
    "south/9 moved, and the wiring file says nothing of it.",
  ]);
});

test("a run without contacts is asked for them once, and says why there are none", async (t) => {
  const fetched = t.mock.method(globalThis, "fetch", async () => new Response(JSON.stringify({ reason: "No contacts." }), { status: 404 }));
  /** @type {[unknown, string][]} */
  const told = [];
  await followContacts("one", (contacts, reason) => told.push([contacts, reason]));
  assert.equal(fetched.mock.callCount(), 1);
  assert.deepEqual(told, [[null, "No contacts."]]);
});
