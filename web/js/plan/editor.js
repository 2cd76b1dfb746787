// @ts-check
// A plan while it is changed. One change after another is made by the server; each can be undone, and none is lost while the server is away.

/**
 * @typedef {import("../wire.js").CheckedPlan} CheckedPlan
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {object} Change
 * @property {Edit[]} edits
 * @property {string | null} text a whole text, in place of the one before; null where the edits say it
 * @property {string} group changes of one group are undone together
 * @property {() => Edit[]} [make] tells the edits once all before it are made
 * @property {"undo" | "redo" | "rest" | "anew"} [step] to a text that there was, in place of both; or an end of the group; or the same text once more
 * @typedef {object} Means what it needs of the page
 * @property {(text: string, edits: Edit[], judge: boolean) => Promise<CheckedPlan>} check rejects where no answer comes
 * @property {(ms: number) => Promise<void>} wait
 * @property {() => void} changed called whenever there is something else to show
 */

const AGAIN_MS = 2000; // until the server is asked once more: chosen
const SLOW_MS = 5000; // an answer that takes longer is spoken of: chosen
const WAITS = "What you change waits here.";
const STILL_ASKED = "What speaks against this plan is still being asked.";
const MOST_UNDONE = 200; // chosen: each is some 30 kB

export class PlanEditor {
  /** @param {Means} means */
  constructor(means) {
    this.means = means;
    /** @type {CheckedPlan | null} */
    this.checked = null;
    /** The last that could be drawn. @type {CheckedPlan | null} */
    this.drawn = null;
    /** The last values that could be read. @type {Record<string, NonNullable<import("../wire.js").PlanFault["meant"]>>} */
    this.values = {};
    /** Another one whenever the text came from elsewhere than the fields. */
    this.revision = 0;
    /** Why the last change was not made, or waits. */
    this.notice = "";
    /** @type {CheckedPlan[]} */
    this.past = [];
    /** @type {CheckedPlan[]} */
    this.future = [];
    /** @type {Change[]} */
    this.waiting = [];
    this.busy = false;
    this.judging = false;
    /** Whether the plan is on its way to be kept. */
    this.saving = false;
    this.group = "";
    /** @type {(() => void)[]} */
    this.ready = [];
  }

  /** Once every change is made. @returns {Promise<void>} */
  settled() {
    return this.busy ? new Promise((resolve) => this.ready.push(resolve)) : Promise.resolve();
  }

  /** Hands on the text once every change is made; nothing while that is under way already. @param {(text: string) => Promise<void>} keep */
  async save(keep) {
    if (this.saving) return;
    this.saving = true;
    this.means.changed();
    try {
      await this.settled();
      await keep(this.checked?.text ?? "");
    } finally {
      this.saving = false;
      this.means.changed();
    }
  }

  /** Begins with a plan; what was before cannot be brought back. @param {CheckedPlan} checked */
  begin(checked) {
    this.past = [];
    this.future = [];
    this.group = "";
    this.notice = "";
    this.revision++;
    this.#show(checked);
  }

  /** @param {Edit[]} edits @param {string} [group] */
  edit(edits, group = "") {
    if (edits.length > 0) this.#add({ edits, text: null, group });
  }

  /** Edits that follow from what was changed before them. @param {() => Edit[]} make @param {string} group */
  follow(make, group) {
    this.#add({ edits: [], text: null, group, make });
  }

  /** Another text in place of the one there is. @param {string} text @param {string} [group] */
  write(text, group = "") {
    this.#add({ edits: [], text, group });
  }

  get canUndo() {
    return this.past.length > 0;
  }

  get canRedo() {
    return this.future.length > 0;
  }

  undo() {
    this.#add({ edits: [], text: null, group: "", step: "undo" });
  }

  redo() {
    this.#add({ edits: [], text: null, group: "", step: "redo" });
  }

  /** Asks anew what follows from the plan, and later of what is undone: the site or the crew is another. */
  checkAnew() {
    this.#add({ edits: [], text: null, group: "", step: "anew" });
  }

  /** What was changed last is done: the next change is undone for itself. */
  rest() {
    this.#add({ edits: [], text: null, group: "", step: "rest" });
  }

  /** @param {CheckedPlan[]} from @param {CheckedPlan[]} to */
  #step(from, to) {
    const next = from.pop();
    if (!next || this.checked === null) return;
    to.push(this.checked);
    this.group = "";
    this.notice = "";
    this.revision++;
    this.#show(next);
  }

  /** @param {Change} change */
  #add(change) {
    const last = this.waiting[this.waiting.length - 1];
    if (last && change.group !== "" && last.group === change.group && !last.make && !change.make) this.waiting[this.waiting.length - 1] = joined(last, change);
    else this.waiting.push(change);
    if (!this.busy) void this.#work();
  }

  async #work() {
    this.busy = true;
    for (let change = this.waiting.shift(); change; change = this.waiting.shift()) {
      if (change.step === "undo") this.#step(this.past, this.future);
      else if (change.step === "redo") this.#step(this.future, this.past);
      else if (change.step === "rest") this.group = "";
      else if (change.step === "anew") await this.#again();
      else await this.#make(change);
    }
    this.busy = false;
    this.means.changed();
    for (const go of this.ready.splice(0)) go();
    await this.#judge();
  }

  /** What speaks against the plan is asked once nothing else is: the chart does not wait for it. */
  async #judge() {
    const { checked } = this;
    if (this.judging || !checked?.schedule || checked.judged) return;
    this.judging = true;
    try {
      const answer = await this.#patiently(this.means.check(checked.text, [], true), STILL_ASKED);
      if (this.checked === checked) this.#show(answer);
    } catch (error) {
      if (this.checked === checked) {
        this.notice = `What speaks against this plan could not be asked. ${error instanceof Error ? error.message : error}`;
        this.means.changed();
        return;
      }
    } finally {
      this.judging = false;
    }
    if (!this.busy) await this.#judge();
  }

  /** Says so where an answer takes long. @template Answer @param {Promise<Answer>} answer @param {string} words */
  async #patiently(answer, words) {
    const slow = setTimeout(() => {
      if (this.notice.endsWith(WAITS)) return;
      this.notice = words;
      this.means.changed();
    }, SLOW_MS);
    try {
      return await answer;
    } finally {
      clearTimeout(slow);
      if (this.notice === words) {
        this.notice = "";
        this.means.changed();
      }
    }
  }

  async #again() {
    const before = this.checked;
    if (before === null) return;
    [this.past, this.future] = [this.past.map(unjudged), this.future.map(unjudged)];
    this.#showUnjudged(await this.#ask(before.text, []), before);
  }

  /** @param {Change} change */
  async #make(change) {
    const edits = change.make ? change.make() : change.edits;
    if (edits.length === 0 && change.text === null) return;
    this.#take(await this.#ask(change.text ?? this.checked?.text ?? "", edits), { ...change, edits });
  }

  /** @param {string} text @param {Edit[]} edits @returns {Promise<CheckedPlan>} */
  async #ask(text, edits) {
    const answer = await this.#askUntilHeard(text, edits);
    if (this.notice.endsWith(WAITS)) this.notice = "";
    return answer;
  }

  /** @param {string} text @param {Edit[]} edits @returns {Promise<CheckedPlan>} */
  async #askUntilHeard(text, edits) {
    for (;;) {
      try {
        return await this.#patiently(this.means.check(text, edits, false), `The server takes long to answer. ${WAITS}`);
      } catch (error) {
        const status = /** @type {{status?: number}} */ (error).status ?? 0;
        const why = error instanceof Error ? error.message : String(error);
        // What is refused, or fails at the server itself, is the same the next time; a server that is away comes back.
        if (status >= 400 && ![401, 502, 503, 504].includes(status)) return { .../** @type {CheckedPlan} */ (this.checked), refused: why };
        this.notice = `${why} ${WAITS}`;
        this.means.changed();
        await this.means.wait(AGAIN_MS);
      }
    }
  }

  /** @param {CheckedPlan} answer @param {Change} change */
  #take(answer, { group, text, edits }) {
    const before = this.checked;
    this.notice = answer.refused;
    if (answer.refused || before?.text === answer.text) {
      this.means.changed();
      return;
    }
    if (before && (group === "" || group !== this.group)) this.past = [...this.past, before].slice(-MOST_UNDONE);
    this.future = [];
    this.group = group;
    const moved = edits.some((edit) => edit.do === "add" || edit.do === "remove" || edit.do === "move");
    if (moved || (text !== null && group !== "text")) this.revision++;
    this.#showUnjudged(answer, before);
  }

  /** Until it is asked anew, what spoke against the plan before stands. @param {CheckedPlan} answer @param {CheckedPlan | null} before */
  #showUnjudged(answer, before) {
    const { findings = [], lacing = null, people = null } = answer.judged || !answer.schedule ? answer : (before ?? {});
    this.#show({ ...answer, findings, lacing, people });
  }

  /** @param {CheckedPlan} checked */
  #show(checked) {
    this.checked = checked;
    if (checked.values) this.values = checked.values;
    if (checked.schedule) this.drawn = checked;
    this.means.changed();
  }
}

/** @param {CheckedPlan} checked @returns {CheckedPlan} */
function unjudged(checked) {
  return { ...checked, judged: false };
}

/** Two changes of one group as one: what is set twice is set once. @param {Change} first @param {Change} second @returns {Change} */
function joined(first, second) {
  if (second.text !== null) return second;
  const over = new Set(second.edits.map(keyOf));
  const kept = first.edits.filter((edit) => keyOf(edit) === "" || !over.has(keyOf(edit)));
  return { ...second, text: first.text, edits: [...kept, ...second.edits] };
}

/** What an edit sets; empty where it cannot be left out for a later one. @param {Edit} edit */
function keyOf(edit) {
  return edit.do === "set" ? edit.path : edit.do === "start" || edit.do === "zone" ? edit.do : "";
}
