// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { Connection, SILENT_MS } from "../../../web/js/live/connection.js";

/** A browser whose time goes on only when it is told to. */
function surroundings() {
  /** @type {{at_ms: number, act: () => void, id: number}[]} */
  let timers = [];
  /** @type {any[]} */
  const sockets = [];
  const made = {
    sockets,
    ms: 0,
    open: (/** @type {string} */ url) => {
      const socket = { url, readyState: 0, closed: false, close: () => (socket.closed = true), send: () => {} };
      sockets.push(socket);
      return /** @type {any} */ (socket);
    },
    now_ms: () => made.ms,
    after: (/** @type {number} */ ms, /** @type {() => void} */ act) => {
      timers.push({ at_ms: made.ms + ms, act, id: timers.length + 1 + made.ms });
      return timers[timers.length - 1]?.id ?? 0;
    },
    cancel: (/** @type {number} */ id) => (timers = timers.filter((timer) => timer.id !== id)),
    random: () => 0.5,
    pass: (/** @type {number} */ ms) => {
      const end_ms = made.ms + ms;
      for (;;) {
        const [next] = timers.filter(({ at_ms }) => at_ms <= end_ms).sort((a, b) => a.at_ms - b.at_ms);
        if (!next) break;
        timers = timers.filter((timer) => timer !== next);
        made.ms = next.at_ms;
        next.act();
      }
      made.ms = end_ms;
    },
  };
  return made;
}

/** @param {ReturnType<typeof surroundings>} around */
function connected(around) {
  /** @type {unknown[]} */
  const heard = [];
  const connection = new Connection(() => "ws://box/live", { onMessage: (message) => heard.push(message), onOpen: () => {} }, around);
  connection.open();
  return { connection, heard };
}

const beat = { data: JSON.stringify({ type: "beat", seq: 1, now_s: 0 }) };

test("what is shown is old once nothing was heard for three seconds", () => {
  const around = surroundings();
  const { connection } = connected(around);
  around.sockets[0].onmessage(beat);
  around.pass(SILENT_MS);
  assert.equal(connection.isLost(), false);
  around.pass(1);
  assert.equal(connection.isLost(), true);
});

test("a stalled network closes no socket: another is opened in its place", () => {
  const around = surroundings();
  connected(around);
  around.sockets[0].onmessage(beat);
  around.pass(7000);
  assert.equal(around.sockets[0].closed, true);
  assert.ok(around.sockets.length >= 2);
});

test("a server that is away is tried again, less and less often, and at least every six seconds", () => {
  const around = surroundings();
  connected(around);
  const tries = [];
  for (let n = 0; n < 8; n += 1) {
    const before_ms = around.ms;
    const count = around.sockets.length;
    around.sockets[count - 1].onclose({ code: 1006 });
    while (around.sockets.length === count) around.pass(10);
    tries.push(around.ms - before_ms);
  }
  assert.deepEqual(tries, [250, 500, 1000, 2000, 4000, 5000, 5000, 5000]);
});

test("a socket that was given up is no longer heard, and what is not a message is dropped", () => {
  const around = surroundings();
  const { connection, heard } = connected(around);
  connection.reopen();
  around.sockets[0].onmessage(beat);
  around.sockets[1].onmessage({ data: "{" });
  around.sockets[1].onmessage({ data: "7" });
  assert.deepEqual(heard, []);
  around.sockets[1].onmessage(beat);
  assert.equal(heard.length, 1);
});

test("a desk that is turned away knows why, asks again, and forgets it once it is heard", () => {
  for (const [code, refusal] of [
    [4401, "unpaired"],
    [4403, "withdrawn"],
    [4404, "no run"],
  ]) {
    const around = surroundings();
    const { connection } = connected(around);
    around.sockets[0].onclose({ code });
    assert.equal(connection.refusal, refusal);
    around.pass(300);
    assert.equal(around.sockets.length, 2);
    around.sockets[1].onclose({ code: 1006 });
    assert.equal(connection.refusal, refusal);
    around.pass(600);
    around.sockets[2].onmessage(beat);
    assert.equal(connection.refusal, null);
  }
});
