// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { Post, answerFrom } from "../../../web/js/live/post.js";

const EVENT = {
  id: "r1",
  t: "2026-03-14T23:51:40Z",
  kind: /** @type {const} */ ("report"),
  station: "h3",
  what: /** @type {const} */ ("no_sound"),
  source: "tap",
};
const TAKEN = { type: "taken", id: "r1", seq: 4, t: EVENT.t };

/** A network that answers when told, and a page whose time passes when told. */
function surroundings() {
  /** @type {{address: string, text: string, answer: (response: {status: number, body: unknown}) => void, fail: () => void}[]} */
  const posted = [];
  /** @type {(() => void)[]} */
  const later = [];
  /** @type {unknown[]} */
  const heard = [];
  const network = {
    post: (/** @type {string} */ address, /** @type {string} */ text) =>
      new Promise((/** @type {(response: {status: number, body: unknown}) => void} */ answer, fail) =>
        posted.push({ address, text, answer, fail: () => fail(new TypeError("no network")) }),
      ),
    after: (/** @type {number} */ _ms, /** @type {() => void} */ act) => later.push(act),
  };
  const post = new Post("a run", { onAnswer: (answer) => heard.push(answer), onAgain: () => heard.push("again") }, network);
  return { post, posted, later, heard };
}

const settled = () => new Promise((resolve) => setImmediate(resolve));

test("an event goes to its run as it is, and its answer is handed on", async () => {
  const { post, posted, heard } = surroundings();
  assert.equal(post.send(EVENT), true);
  assert.equal(posted[0]?.address, "/api/runs/a%20run/events");
  assert.deepEqual(JSON.parse(posted[0]?.text ?? ""), EVENT);
  posted[0]?.answer({ status: 200, body: TAKEN });
  await settled();
  assert.deepEqual(heard, [TAKEN]);
});

test("one goes at a time: what comes in between is not sent beside it", async () => {
  const { post, posted } = surroundings();
  post.send(EVENT);
  assert.equal(post.send({ ...EVENT, id: "r2" }), false);
  assert.equal(posted.length, 1);
  posted[0]?.answer({ status: 200, body: TAKEN });
  await settled();
  assert.equal(post.send({ ...EVENT, id: "r2" }), true);
});

test("where no answer comes it is said a while later that it may be sent again", async () => {
  const { post, posted, later, heard } = surroundings();
  post.send(EVENT);
  posted[0]?.fail();
  await settled();
  assert.deepEqual(heard, []);
  later[0]?.();
  assert.deepEqual(heard, ["again"]);
  assert.equal(post.send(EVENT), true);
});

test("what the server says of the event is its answer, and another sentence of its is a refusal", () => {
  const later = { type: "refused", id: "r1", reason: "later", again: true };
  assert.deepEqual(answerFrom({ status: 503, body: later }, "r1"), later);
  const refused = { type: "refused", id: "r1", again: false };
  for (const [status, reason] of /** @type {const} */ ([
    [403, "only looks"],
    [404, "no such run"],
    [413, "too long"],
    [422, "what: found x"],
  ])) {
    assert.deepEqual(answerFrom({ status, body: { reason } }, "r1"), { ...refused, reason });
  }
});

test("a device that is not paired, a server in trouble and an answer to something else are asked again", () => {
  for (const [status, body] of /** @type {const} */ ([
    [401, { reason: "not paired" }],
    [500, { reason: "failed" }],
    [502, null],
    [200, { ...TAKEN, id: "r2" }],
    [200, "<html>"],
  ])) {
    assert.equal(answerFrom({ status, body }, "r1"), null);
  }
});
