// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { Outbox } from "../../web/js/outbox.js";
import { answered, freshId, tapEvent, tapLines, unsent, withTap } from "../../web/js/taps.js";
import { deskAddress, liveAddress } from "../../web/js/runs.js";

const ZERO = "2026-03-14T23:50:00Z";
const lit = tapEvent({ kind: "lamp_lit", station: "h3" }, ZERO, 61.5, "a");

test("a tap has the run's time at which it was made, and says that it is a tap", () => {
  assert.deepEqual(lit, { id: "a", t: "2026-03-14T23:51:01.500Z", source: "tap", kind: "lamp_lit", station: "h3" });
});

// RFC 9562, 4.2 and 5.4: version 4, variant 10.
test("ids are random ones of version 4", () => {
  const ids = new Set(Array.from({ length: 100 }, () => freshId()));
  assert.equal(ids.size, 100);
  for (const id of ids) assert.match(id, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});

test("a tap waits, is taken, or is refused with the reason; what may be sent again still waits", () => {
  const waiting = withTap([], lit);
  assert.equal(waiting[0]?.state, "waiting");
  assert.equal(answered(waiting, { type: "taken", id: "a", seq: 1, t: lit.t })[0]?.state, "taken");
  const refused = answered(waiting, { type: "refused", id: "a", reason: "no such station", again: false });
  assert.deepEqual([refused[0]?.state, refused[0]?.reason], ["refused", "no such station"]);
  assert.deepEqual(unsent(answered(waiting, { type: "refused", id: "a", reason: "disk full", again: true })), [lit]);
});

test("what was not answered goes out again under the same id, and what was answered does not", () => {
  /** @type {string[]} */
  const sent = [];
  const outbox = new Outbox((event) => sent.push(event.id) > 0, () => {});
  outbox.tap({ kind: "lamp_lit", station: "h3" }, ZERO, 1);
  outbox.sendAll();
  assert.equal(sent.length, 2);
  assert.equal(sent[0], sent[1]);
  outbox.hear({ type: "taken", id: sent[0] ?? "", seq: 1, t: ZERO });
  outbox.sendAll();
  assert.equal(sent.length, 2);
});

test("a tap whose answer was lost is taken once its event comes by", () => {
  const outbox = new Outbox(() => false, () => {});
  outbox.tap({ kind: "lamp_lit", station: "h3" }, ZERO, 1);
  outbox.see(outbox.taps.map(({ event }) => event));
  assert.equal(outbox.taps[0]?.state, "taken");
});

test("a tap that was taken back says so, at every desk", () => {
  const back = tapEvent({ kind: "retract", retracts: "a" }, ZERO, 70, "b");
  assert.deepEqual(tapLines([], [lit, back]).map(({ event, state }) => [event.id, state]), [["a", "retracted"]]);
  assert.deepEqual(tapLines(withTap([], back), [lit]).map(({ event, state }) => [event.id, state]), [["a", "retracting"]]);
});

test("a contact's event is no tap and cannot be taken back here", () => {
  assert.deepEqual(tapLines([], [{ ...lit, source: "contact:north/3" }]), []);
});

test("a desk comes back to the place where it was, in the life of the server that counted it", () => {
  const page = { protocol: "https:", host: "box:8440" };
  assert.equal(liveAddress("a b", { seq: 7, epoch: "e1" }, page), "wss://box:8440/api/runs/a%20b/live?seq=7&epoch=e1");
  assert.equal(liveAddress("r", null, { ...page, protocol: "http:" }), "ws://box:8440/api/runs/r/live");
  assert.equal(deskAddress("pad", "a b"), "/pad?run=a+b");
});
