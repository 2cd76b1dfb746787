// @ts-check
import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { PlanEditor } from "../../../web/js/plan/editor.js";
import { setting } from "../../../web/js/plan/view.js";
import { checkedPlan } from "./plans.js";

/** @type {import("../../../web/js/wire.js").ScheduleDocument} */
const SCHEDULE = {
  format: "festoon-schedule/1",
  links: [],
  threading: { leader_ft: 0, stretches: [], minutes: 0 },
  warnings: [],
  film: { frame_mm: 19, speed_m_per_s: 0.456, frames_per_foot: 16 },
  stations: [],
};

/** A server that writes values, answers when it is told to, and can be away. */
class Server {
  constructor() {
    this.asked = 0;
    /** How often it is still away. */
    this.away = 0;
    this.refuses = "";
    /** @type {string[][]} the paths that each question set */
    this.questions = [];
    this.waits = 0;
    /** What it was asked to judge. @type {string[]} */
    this.judged = [];
  }

  /** Finds as many things as a title is long. @param {string} text */
  async judge(text) {
    await Promise.resolve();
    this.judged.push(text);
    const values = JSON.parse(text);
    const finding = { code: "x", level: /** @type {const} */ ("warning"), about: "", stations: [], text: values.title, cause: "", remedy: "" };
    return checkedPlan(values, { schedule: SCHEDULE, findings: [finding] });
  }

  /** @param {string} text @param {NonNullable<import("../../../web/js/wire.js").CheckRequest["edits"]>[number][]} edits */
  async check(text, edits) {
    await Promise.resolve();
    if (this.away > 0) {
      this.away--;
      throw new Error("No word from the server.");
    }
    this.questions.push(edits.map((edit) => (edit.do === "set" ? edit.path : edit.do)));
    const values = JSON.parse(text);
    if (this.refuses) return checkedPlan(values, { refused: this.refuses });
    for (const edit of edits) if (edit.do === "set") values[edit.path] = edit.value;
    return checkedPlan(values, { schedule: SCHEDULE, judged: false });
  }
}

function begun() {
  const server = new Server();
  const editor = new PlanEditor({
    check: (text, edits, judge) => (judge ? server.judge(text) : server.check(text, edits)),
    wait: async () => void server.waits++,
    changed: () => {},
  });
  editor.begin(checkedPlan({ title: "A" }));
  return { server, editor };
}

test("every change is asked for, one after another, and shown", async () => {
  const { server, editor } = begun();
  editor.edit([setting("title", "B")]);
  editor.edit([setting("site", "S")]);
  await editor.settled();
  assert.deepEqual(editor.values, { title: "B", site: "S" });
  assert.deepEqual(server.questions, [["title"], ["site"]]);
});

test("of what is typed into one field while the server is busy only the last is asked for, and it is one step", async () => {
  const { server, editor } = begun();
  for (const text of ["B", "BC", "BCD"]) editor.edit([setting("title", text)], "title");
  await editor.settled();
  assert.equal(server.questions.length, 2);
  assert.equal(editor.values["title"], "BCD");
  editor.undo();
  await editor.settled();
  assert.equal(editor.values["title"], "A");
  assert.equal(editor.canUndo, false);
  editor.redo();
  await editor.settled();
  assert.equal(editor.values["title"], "BCD");
});

test("what is typed after leaving a field is another step", async () => {
  const { editor } = begun();
  editor.edit([setting("title", "B")], "title");
  editor.rest();
  editor.edit([setting("title", "C")], "title");
  editor.undo();
  await editor.settled();
  assert.equal(editor.values["title"], "B");
});

test("what follows from a change is made of the plan as it then is, and undone with it", async () => {
  const { editor } = begun();
  editor.edit([setting("title", "B")], "title");
  editor.follow(() => [setting("site", `of ${editor.values["title"]}`)], "title");
  editor.rest();
  await editor.settled();
  assert.equal(editor.values["site"], "of B");
  editor.undo();
  await editor.settled();
  assert.deepEqual(editor.values, { title: "A" });
});

test("a change after an undo forgets what was undone", async () => {
  const { editor } = begun();
  editor.edit([setting("title", "B")]);
  editor.undo();
  editor.edit([setting("title", "C")]);
  await editor.settled();
  assert.equal(editor.canRedo, false);
});

test("while the server is away changes wait, and none is lost", async () => {
  const { server, editor } = begun();
  server.away = 2;
  /** @type {string[]} */
  const notices = [];
  editor.means.changed = () => void notices.push(editor.notice);
  editor.edit([setting("title", "B")]);
  editor.edit([setting("site", "S")]);
  await editor.settled();
  assert.deepEqual(editor.values, { title: "B", site: "S" });
  assert.equal(server.waits, 2);
  assert.ok(notices.includes("No word from the server. What you change waits here."));
  assert.equal(editor.notice, "");
});

test("a change that is refused is told, and is no step", async () => {
  const { server, editor } = begun();
  server.refuses = "It cannot be made.";
  editor.edit([setting("title", "B")]);
  await editor.settled();
  assert.deepEqual([editor.notice, editor.canUndo, editor.values], ["It cannot be made.", false, { title: "A" }]);
});

test("what the server fails at is told and not asked for again", async () => {
  const { editor } = begun();
  editor.means.check = async () => {
    throw Object.assign(new Error("It failed."), { status: 500 });
  };
  editor.edit([setting("title", "B")]);
  await editor.settled();
  assert.deepEqual([editor.notice, editor.values], ["It failed.", { title: "A" }]);
});

test("a text that cannot be read leaves the values and the chart of the one before", async () => {
  const { editor } = begun();
  const drawn = checkedPlan({ title: "A" }, { schedule: SCHEDULE });
  editor.begin(drawn);
  editor.means.check = async (text) => checkedPlan({}, { text, values: null });
  editor.write("[", "text");
  await editor.settled();
  assert.deepEqual([editor.values, editor.drawn === drawn, editor.checked?.values], [{ title: "A" }, true, null]);
});

test("fields forget what was typed once the text came from elsewhere, and not before", async () => {
  const { editor } = begun();
  const first = editor.revision;
  editor.edit([setting("title", "B")], "title");
  await editor.settled();
  assert.equal(editor.revision, first);
  editor.write(JSON.stringify({ title: "C" }));
  await editor.settled();
  assert.equal(editor.revision, first + 1);
  editor.undo();
  await editor.settled();
  assert.equal(editor.revision, first + 2);
});

/** Once nothing is asked any more. @param {PlanEditor} editor */
async function quiet(editor) {
  await editor.settled();
  while (editor.judging) await Promise.resolve();
}

test("what speaks against a plan is asked once nothing else is, and what spoke before stands until then", async () => {
  const { server, editor } = begun();
  const finding = { code: "x", level: /** @type {const} */ ("warning"), about: "", stations: [], text: "before", cause: "", remedy: "" };
  editor.begin(checkedPlan({ title: "A" }, { schedule: SCHEDULE, findings: [finding] }));
  /** @type {string[]} */
  const shown = [];
  editor.means.changed = () => void shown.push(`${editor.values["title"]}: ${editor.checked?.findings[0]?.text}`);
  editor.edit([setting("title", "B")]);
  editor.edit([setting("title", "C")]);
  await quiet(editor);
  assert.deepEqual([...new Set(shown)], ["B: before", "C: before", "C: C"]);
  assert.equal(server.judged.length, 1);
});

test("a judgement that comes too late is not shown, and asked anew", async () => {
  const { server, editor } = begun();
  editor.edit([setting("title", "B")]);
  await editor.settled();
  editor.edit([setting("title", "C")]);
  await quiet(editor);
  assert.equal(editor.checked?.findings[0]?.text, "C");
  assert.equal(server.judged.length, 2);
});

test("a judgement that cannot be had is told: old findings are not passed off as new", async () => {
  const { server, editor } = begun();
  server.judge = async () => {
    throw new Error("It failed.");
  };
  editor.edit([setting("title", "B")]);
  await quiet(editor);
  assert.equal(editor.notice, "What speaks against this plan could not be asked. It failed.");
});

test("with another site or crew the same text is asked about anew, and so is what is undone; nothing is to be undone for it", async () => {
  const { server, editor } = begun();
  editor.edit([setting("title", "B")]);
  await editor.settled();
  await settledJudging();
  const before = server.judged.length;
  editor.checkAnew();
  await editor.settled();
  await settledJudging();
  assert.deepEqual(server.judged.slice(before), [JSON.stringify({ title: "B" })]);
  assert.equal(editor.past.length, 1);
  editor.undo();
  await editor.settled();
  await settledJudging();
  assert.deepEqual(editor.values, { title: "A" });
  editor.redo();
  await settledJudging();
  assert.equal(server.judged.at(-1), JSON.stringify({ title: "B" }));
  assert.equal(editor.canRedo, false);
});

test("asking anew before anything is open asks nothing", async () => {
  const { server } = begun();
  const editor = new PlanEditor({ check: (text, edits) => server.check(text, edits), wait: async () => {}, changed: () => {} });
  editor.checkAnew();
  await editor.settled();
  assert.equal(server.questions.length, 0);
});

/** The judge is asked behind what settles. */
async function settledJudging() {
  for (let turn = 0; turn < 20; turn++) await Promise.resolve();
}

/** A promise, and what keeps it. @template Answer */
function promised() {
  /** @type {(answer: Answer) => void} */
  let keep = () => {};
  /** @type {(error: Error) => void} */
  let fail = () => {};
  const promise = new Promise((/** @type {(answer: Answer) => void} */ resolve, reject) => ([keep, fail] = [resolve, reject]));
  return { promise, keep, fail };
}

test("a plan is saved once at a time, with all that was changed before it", async () => {
  const { editor } = begun();
  /** @type {string[]} */
  const saved = [];
  const answer = promised();
  const keep = async (/** @type {string} */ text) => {
    saved.push(text);
    await answer.promise;
  };
  editor.edit([setting("title", "B")]);
  const first = editor.save(keep);
  await editor.save(keep);
  assert.equal(editor.saving, true);
  await settledJudging();
  await editor.save(keep);
  assert.deepEqual(saved, [JSON.stringify({ title: "B" })]);
  answer.keep(null);
  await first;
  assert.equal(editor.saving, false);
  await editor.save(keep);
  assert.equal(saved.length, 2);
});

test("a save that fails does not end saving", async () => {
  const { editor } = begun();
  await assert.rejects(editor.save(() => Promise.reject(new Error("full"))));
  assert.equal(editor.saving, false);
});

test("an answer that takes long is spoken of while later changes wait for it, and not any more once it came", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  try {
    const { server, editor } = begun();
    const answer = promised();
    const at_once = editor.means.check;
    editor.means.check = async (text, edits, judge) => {
      await answer.promise;
      return at_once(text, edits, judge);
    };
    editor.edit([setting("title", "B")]);
    editor.edit([setting("site", "S")]);
    mock.timers.tick(4000);
    assert.equal(editor.notice, "");
    mock.timers.tick(2000);
    assert.equal(editor.notice, "The server takes long to answer. What you change waits here.");
    answer.keep(null);
    await editor.settled();
    await settledJudging();
    assert.deepEqual([editor.notice, editor.values, server.questions.length], ["", { title: "B", site: "S" }, 2]);
  } finally {
    mock.timers.reset();
  }
});

test("once a server that was away answers, nothing says any more that it is away", async () => {
  const { server, editor } = begun();
  server.away = 1;
  editor.checkAnew();
  await editor.settled();
  assert.equal(editor.notice, "");
});

test("a judgement that takes long is spoken of, and one that fails after a change is asked for the changed plan", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  try {
    const { server, editor } = begun();
    const answer = promised();
    const at_once = server.judge.bind(server);
    server.judge = () => /** @type {Promise<never>} */ (answer.promise);
    editor.edit([setting("title", "B")]);
    await editor.settled();
    await settledJudging();
    mock.timers.tick(6000);
    assert.equal(editor.notice, "What speaks against this plan is still being asked.");
    editor.edit([setting("title", "C")]);
    await editor.settled();
    server.judge = at_once;
    answer.fail(new Error("No word."));
    await settledJudging();
    assert.deepEqual([editor.notice, editor.checked?.findings[0]?.text], ["", "C"]);
  } finally {
    mock.timers.reset();
  }
});
