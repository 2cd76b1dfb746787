// @ts-check
import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { Refusal } from "../../../web/js/debrief/debriefs.js";
import { check, threadingOf } from "../../../web/js/plan/server.js";
import { ASK_MS, Asking } from "../../../web/js/threading/asking.js";

/** A server that answers when told, and a page whose time passes when told. */
function surroundings() {
  /** @type {{answer: (list: string) => void, fail: (error: Error) => void}[]} */
  const asked = [];
  /** @type {unknown[]} */
  const heard = [];
  const clock = { now_ms: 0 };
  const asking = new Asking({
    ask: () => new Promise((/** @type {(list: string) => void} */ answer, fail) => asked.push({ answer, fail })),
    told: (list) => void heard.push(list),
    failed: (error) => void heard.push(error instanceof Error && error.message),
    now_ms: () => clock.now_ms,
  });
  return { asking, asked, heard, clock };
}

const settled = () => new Promise((resolve) => setImmediate(resolve));

test("while an answer is out nothing is asked again", async () => {
  const { asking, asked, heard } = surroundings();
  void asking.again();
  void asking.again();
  assert.equal(asked.length, 1);
  asked[0]?.answer("one");
  await settled();
  void asking.again();
  assert.deepEqual([asked.length, heard], [2, ["one"]]);
});

test("what is asked anew overtakes: an older answer, or its failure, that comes late is left", async () => {
  const { asking, asked, heard } = surroundings();
  void asking.again();
  void asking.anew();
  void asking.anew();
  asked[2]?.answer("for four people");
  await settled();
  asked[0]?.answer("for two people");
  asked[1]?.fail(new Refusal("No word.", [], 0));
  await settled();
  assert.deepEqual([heard, asking.lost], [["for four people"], false]);
  void asking.again();
  assert.equal(asked.length, 4);
});

test("a question without an answer is a server lost, a refusal is one heard", async () => {
  const { asking, asked } = surroundings();
  for (const [status, lost] of /** @type {[number, boolean][]} */ ([
    [0, true],
    [409, false],
  ])) {
    void asking.again();
    asked.at(-1)?.fail(new Refusal("No.", [], status));
    await settled();
    assert.equal(asking.lost, lost);
  }
});

test("when nothing was heard for twice the time between two questions it is lost, whatever is still out", async () => {
  const { asking, asked, clock } = surroundings();
  void asking.again();
  clock.now_ms = 2 * ASK_MS;
  assert.equal(asking.lost, false);
  clock.now_ms += 1;
  assert.equal(asking.lost, true);
  asked[0]?.answer("one");
  await settled();
  assert.equal(asking.lost, false);
});

/** A connection that hangs, at once or after the head of an answer. @param {boolean} begun */
function hanging(begun) {
  return mock.method(globalThis, "fetch", (/** @type {string} */ _address, /** @type {RequestInit} */ { signal }) => {
    const cut = new Promise((_, reject) => signal?.addEventListener("abort", () => reject(new Error("cut"))));
    return begun ? Promise.resolve({ ok: true, status: 200, text: () => cut, json: () => cut }) : cut;
  });
}

for (const begun of [false, true]) {
  test(`a connection that hangs ${begun ? "within" : "before"} an answer is given up: soon for a list, later for a check`, { timeout: 2000 }, async () => {
    const fetching = hanging(begun);
    mock.timers.enable({ apis: ["setTimeout"] });
    try {
      /** @type {string[]} */
      const gone = [];
      const reports = [
        threadingOf("night", null).catch((error) => gone.push(`list ${error.status}`)),
        check("", [], true, null).catch((error) => gone.push(`check ${error.status}`)),
      ];
      await settled();
      mock.timers.tick(ASK_MS);
      await settled();
      assert.deepEqual(gone, ["list 0"]);
      mock.timers.tick(ASK_MS);
      await Promise.all(reports);
      assert.deepEqual(gone, ["list 0", "check 0"]);
    } finally {
      mock.timers.reset();
      fetching.mock.restore();
    }
  });
}

test("what is no JSON is still an answer: its status is told", async () => {
  const fetching = mock.method(globalThis, "fetch", async () => new Response("<html>", { status: 502 }));
  try {
    await assert.rejects(threadingOf("night", 2), { message: "The server answered with 502.", status: 502 });
  } finally {
    fetching.mock.restore();
  }
});
