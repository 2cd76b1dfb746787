// @ts-check
import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { Outbox } from "../../../web/js/booth/outbox.js";
import { alarmsAnswered, answered, freshId, isOpen, latestLine, logLines, movedBack, tapEvent, unsent, withTap } from "../../../web/js/booth/taps.js";
import { deskAddress, liveAddress } from "../../../web/js/live/runs.js";

const ZERO = "2026-03-14T23:50:00Z";
const at = (/** @type {number} */ t_s) => ({ t_s, sigma_s: 0.3 });
const lit = tapEvent({ kind: "lamp_lit", station: "h3" }, ZERO, at(61.5), "a");

test("a tap has the run's time at which it was made with its uncertainty, and says that it is a tap", () => {
  assert.deepEqual(lit, { id: "a", t: "2026-03-14T23:51:01.500Z", source: "tap", sigma_s: 0.3, kind: "lamp_lit", station: "h3" });
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

test("a tap that is moved is another event, that much earlier and that much less certain", () => {
  const moved = movedBack(lit, 5, "b");
  assert.deepEqual(moved, { ...lit, id: "b", t: "2026-03-14T23:50:56.500Z", sigma_s: Math.round(Math.hypot(0.3, 1.25) * 1000) / 1000 });
});

/** A server that answers when it is told to, and a keeper that remembers what was written into it. @param {{there?: boolean}} [given] */
function outbox({ there = true } = {}) {
  /** @type {import("../../../web/js/wire.js").ObservedEvent[]} */
  const sent = [];
  /** @type {Map<string, import("../../../web/js/booth/taps.js").Tap>} */
  const store = new Map();
  const line = { there };
  const send = (/** @type {import("../../../web/js/wire.js").ObservedEvent} */ event) => line.there && sent.push(event) > 0;
  const keeper = { put: (/** @type {any} */ tap) => void store.set(tap.event.id, tap), drop: (/** @type {string} */ id) => void store.delete(id) };
  const made = new Outbox(send, keeper, () => {});
  const take = (/** @type {number} */ n) => made.hear({ type: "taken", id: sent[n]?.id ?? "", seq: n, t: ZERO });
  const refuse = (/** @type {number} */ n, /** @type {boolean} */ again, known = /** @type {true | undefined} */ (undefined)) =>
    made.hear({ type: "refused", id: sent[n]?.id ?? "", reason: "why", again, ...(known ? { known } : {}) });
  return { made, sent, store, line, take, refuse };
}

test("two calls of the same words to two booths, and two troubles of one house, are no finger that bounced", () => {
  const { made, sent } = outbox({ there: false });
  for (const to of ["North", "South"]) made.tap({ kind: "call", to, text: "Ready?" }, ZERO, at(1));
  for (const what of /** @type {const} */ (["no_sound", "unsteady", "unsteady"])) made.tap({ kind: "report", station: "h3", what }, ZERO, at(1.1));
  assert.deepEqual(
    made.taps.map(({ event }) => event.to ?? event.what),
    ["North", "South", "no_sound", "unsteady"],
  );
  assert.equal(sent.length, 0);
});

test("a tap that is known and not written down keeps no later one from going out, is not taken, and is asked for again", (t) => {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  const { made, sent, store, take, refuse } = outbox();
  made.tap({ kind: "motor_stop", station: "h3" }, ZERO, at(1));
  made.tap({ kind: "lamp_out", station: "h3" }, ZERO, at(5));
  assert.deepEqual(kinds(sent), ["motor_stop"]);
  refuse(0, true, true);
  assert.deepEqual(kinds(sent), ["motor_stop", "lamp_out"]);
  refuse(1, true, true);
  assert.deepEqual(
    made.taps.map(({ state }) => state),
    ["waiting", "waiting"],
  );
  assert.equal(store.size, 2);
  t.mock.timers.tick(2000);
  assert.deepEqual(kinds(sent), ["motor_stop", "lamp_out", "motor_stop"]);
  take(2);
  assert.deepEqual(kinds(sent).slice(3), ["lamp_out"]);
  take(3);
  assert.equal(store.size, 0);
});

const kinds = (/** @type {{kind: string}[]} */ events) => events.map(({ kind }) => kind);

test("what was not answered goes out again as it was, and what was answered does not", () => {
  const { made, sent, take } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  made.sendAll();
  assert.equal(sent.length, 2);
  assert.deepEqual(sent[0], sent[1]);
  take(0);
  made.sendAll();
  assert.equal(sent.length, 2);
});

test("taps are sent in their order, each after the answer to the one before, and one that is refused holds nothing up", () => {
  const { made, sent, line, take, refuse } = outbox({ there: false });
  for (const kind of /** @type {const} */ (["motor_start", "lamp_lit", "douser_open"])) made.tap({ kind, station: "h3" }, ZERO, at(1));
  assert.deepEqual(sent, []);
  line.there = true;
  made.sendAll();
  assert.deepEqual(kinds(sent), ["motor_start"]);
  take(0);
  refuse(1, false);
  take(2);
  assert.deepEqual(kinds(sent), ["motor_start", "lamp_lit", "douser_open"]);
  assert.deepEqual(
    made.taps.map(({ state }) => state),
    ["taken", "refused", "taken"],
  );
});

test("a tap that may be sent again is, and what comes after it waits: it may take it back", () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const { made, sent, refuse, take } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  made.tap({ kind: "retract", retracts: sent[0]?.id ?? "" }, ZERO, at(2));
  refuse(0, true);
  assert.deepEqual(kinds(sent), ["lamp_lit"]);
  mock.timers.tick(2000);
  assert.deepEqual(kinds(sent), ["lamp_lit", "lamp_lit"]);
  take(1);
  assert.deepEqual(kinds(sent), ["lamp_lit", "lamp_lit", "retract"]);
  mock.timers.reset();
});

test("a tap is kept until it is taken; a refused one until it was put away", () => {
  const { made, store, take, refuse } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  assert.equal(store.size, 1);
  take(0);
  assert.equal(store.size, 0);
  made.tap({ kind: "lamp_out", station: "h3" }, ZERO, at(2));
  refuse(1, false);
  assert.deepEqual(
    [...store.values()].map(({ state, reason }) => [state, reason]),
    [["refused", "why"]],
  );
  made.dismiss(made.taps[1]?.event.id ?? "");
  assert.equal(store.size, 0);
  assert.equal(made.taps.length, 1);
});

test("what an earlier page left goes out before what is tapped now, with the ids it had", () => {
  const { made, sent, line, take } = outbox({ there: false });
  made.tap({ kind: "douser_open", station: "h3" }, ZERO, at(90));
  made.restore(withTap(withTap([], lit), { ...lit, id: "c", kind: "lamp_out" }));
  line.there = true;
  made.sendAll();
  take(0);
  take(1);
  assert.deepEqual(kinds(sent), ["lamp_lit", "lamp_out", "douser_open"]);
  assert.deepEqual(
    sent.slice(0, 2).map(({ id }) => id),
    ["a", "c"],
  );
});

test("moving a tap takes it back and says it again", () => {
  const { made, sent, take } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3", by: "Ines" }, ZERO, at(60));
  take(0);
  const [first] = sent;
  assert.ok(first);
  made.move(first, 10, ZERO, at(65));
  take(1);
  assert.deepEqual(
    sent.slice(1).map(({ kind, t, by, retracts }) => ({ kind, t, by, retracts })),
    [
      { kind: "retract", t: "2026-03-14T23:51:05.000Z", by: "Ines", retracts: first.id },
      { kind: "lamp_lit", t: "2026-03-14T23:50:50.000Z", by: "Ines", retracts: undefined },
    ],
  );
});

test("a tap whose answer was lost is taken once its event comes by", () => {
  const { made, store } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  made.see(made.taps.map(({ event }) => event));
  assert.equal(made.taps[0]?.state, "taken");
  assert.equal(store.size, 0);
});

test("a tap that was taken back says so, at every desk", () => {
  const back = tapEvent({ kind: "retract", retracts: "a" }, ZERO, at(70), "b");
  assert.deepEqual(
    logLines([], [lit, back]).map(({ event, state, own }) => [event.id, state, own]),
    [["a", "retracted", false]],
  );
  assert.deepEqual(
    logLines(withTap([], back), [lit]).map(({ event, state }) => [event.id, state]),
    [["a", "retracting"]],
  );
});

test("the answer is about what was tapped last, not about what happened last", () => {
  const taps = withTap(withTap([], lit), movedBack({ ...lit, kind: "lamp_out" }, 20, "b"));
  assert.equal(latestLine(taps, logLines(taps, []))?.event.id, "b");
});

test("a contact's event stands in the log and cannot be taken back", () => {
  const [line] = logLines([], [{ ...lit, source: "contact:north/3" }]);
  assert.ok(line);
  assert.equal(isOpen(line), false);
});

test("a desk comes back to the place where it was, in the life of the server that counted it", () => {
  const page = { protocol: "https:", host: "box:8440" };
  assert.equal(liveAddress("a b", { seq: 7, epoch: "e1" }, page), "wss://box:8440/api/runs/a%20b/live?seq=7&epoch=e1");
  assert.equal(liveAddress("r", null, { ...page, protocol: "http:" }), "ws://box:8440/api/runs/r/live");
  assert.equal(deskAddress("booth", "a b"), "/booth?run=a+b");
});

test("a finger that bounces says it once, and one that means it again says it again", () => {
  const { made } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1.2));
  made.tap({ kind: "lamp_lit", station: "h5" }, ZERO, at(1.3));
  made.tap({ kind: "lamp_lit", station: "h5" }, ZERO, at(1.9));
  assert.deepEqual(
    made.taps.map(({ event }) => event.t.slice(20)),
    ["000Z", "300Z", "900Z"],
  );
});

test("what comes after a refusal, or after the run's time was set back, is no bounce", () => {
  const { made, refuse } = outbox();
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(9));
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(8.9));
  assert.equal(made.taps.length, 1);
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1));
  assert.equal(made.taps.length, 2);
  refuse(0, false);
  refuse(1, false);
  made.tap({ kind: "lamp_lit", station: "h3" }, ZERO, at(1.2));
  assert.equal(made.taps.length, 3);
});

test("an alarm counts as answered here only until the server has heard it: it may come again", () => {
  const ack = tapEvent({ kind: "ack", alarm: "motor_lost:h3" }, ZERO, at(70), "b");
  const waiting = withTap([], ack);
  assert.deepEqual([...alarmsAnswered(waiting)], ["motor_lost:h3"]);
  assert.deepEqual([...alarmsAnswered(answered(waiting, { type: "taken", id: "b", seq: 1, t: ZERO }))], []);
  assert.deepEqual([...alarmsAnswered(answered(waiting, { type: "refused", id: "b", reason: "why", again: false }))], []);
});
