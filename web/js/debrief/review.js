// @ts-check
// Going through one run: what is loaded of it, which moment is looked at, and what of that a page is given.

import {
  comparisonOf,
  correct,
  debriefOf,
  eventsOf,
  fileFrom,
  firstLookOf,
  lessonsOf,
  libraryOf,
  seriesOf,
  stateAt,
  storyOf,
  tablesOf,
  whyNot,
} from "./debriefs.js";
import { momentsFrom, stepFrom } from "./moments.js";
import { Playhead, Seeker, runStateFrom } from "./replay.js";

/**
 * @typedef {import("../wire.js").DebriefInfo} Debrief
 * @typedef {import("../wire.js").Story["clock"]} KnownClock
 * @typedef {object} ReviewDesk what the page of a run takes
 * @property {string[]} runs the run that is gone through, and those that stand beside it
 * @property {Debrief | null} debrief
 * @property {import("../wire.js").Story | null} story what happened, in a few sentences
 * @property {boolean} reading not all of it is here yet
 * @property {import("../wire.js").Series | null} series
 * @property {import("../wire.js").ArrivedEvent[]} events
 * @property {import("../wire.js").TableDocument[]} tables
 * @property {import("./moments.js").Moment[]} moments
 * @property {import("../live/store.js").RunState | null} state what is known at `now_s`
 * @property {number} at_s the moment that is wanted
 * @property {number} now_s the moment that is shown: the same, as soon as it is known
 * @property {() => number} timeAt the moment that is shown, asked at any instant
 * @property {boolean} playing
 * @property {number} speed
 * @property {KnownClock} clock
 * @property {string} trouble why something could not be had, or empty
 * @property {boolean} grown more was observed since this was loaded
 * @property {import("../wire.js").LessonList | null} lessons
 * @property {import("../wire.js").Comparison | null} comparison
 * @property {import("../wire.js").LibraryRun[] | null} others runs that may stand beside it, null until they are known
 * @property {string} told what became of a correction or of a file that was asked for, or empty
 */

const PLAY_MS = 80; // between two moments of words and cursor; the film itself is drawn between them: chosen
const KEEPING_MS = 60_000; // until the browser has surely begun to keep a file: chosen
const CURSOR_MS = 40; // for so long the cursor waits to move with the picture, in one drawing; a server that takes longer is not waited for: chosen
const REST_MS = 150; // after the last jump, before what is near it is asked for: chosen

export class Review {
  /** @param {ReviewDesk} desk @param {string[]} runs */
  constructor(desk, runs) {
    this.desk = desk;
    this.runs = runs;
    this.run = runs[0] ?? "";
    this.playhead = new Playhead({ from_s: 0, to_s: 0 });
    this.seeker = new Seeker(
      (at_s) => stateAt(this.run, at_s, desk.clock),
      (state, at_s) => this.#show(state, at_s),
      (error) => (desk.trouble = whyNot(error)),
    );
    /** @type {number | null} */
    this.timer = null;
    /** @type {number | null} */
    this.rest = null;
    this.until_s = Infinity;
    /** How often everything was asked for: an answer to an older question is left. */
    this.loads = 0;
    /** @type {number | null} */
    this.cursor = null;
    this.wanted_s = 0;
    desk.runs = runs;
    desk.speed = this.playhead.speed;
    desk.timeAt = () => Math.min(this.playhead.playing ? this.playhead.at(now_s()) : desk.now_s, this.until_s);
  }

  /** Shows what there is at once, with the first moment, and then loads the rest. */
  async open() {
    const { desk } = this;
    try {
      const { debrief, series, story } = await firstLookOf(this.run);
      desk.story = story;
      this.#take(debrief, series, [], []);
    } catch (error) {
      desk.trouble = whyNot(error);
      return;
    }
    const loading = this.load();
    this.jump(this.playhead.span.from_s);
    await loading;
  }

  /** Loads everything that is known of the run, at first or again; the moment stays. */
  async load() {
    const { desk } = this;
    const load = ++this.loads;
    desk.reading = true;
    try {
      const [, debrief, series, events, tables] = await Promise.all([
        this.#tell(load), // first: where runs are gone through, one question is answered after another
        debriefOf(this.run),
        seriesOf(this.run, desk.clock),
        eventsOf(this.run),
        tablesOf(this.run, desk.clock),
      ]);
      if (load === this.loads) this.#take(debrief, series, events.events, tables.tables);
    } catch (error) {
      desk.trouble = whyNot(error);
    }
    if (load === this.loads) desk.reading = false;
  }

  /** Tells what happened as soon as that is known. @param {number} load */
  async #tell(load) {
    const story = await storyOf(this.run, this.desk.clock);
    if (load === this.loads) this.desk.story = story;
  }

  /** @param {Debrief} debrief @param {import("../wire.js").Series} series @param {import("../wire.js").ArrivedEvent[]} events @param {import("../wire.js").TableDocument[]} tables */
  #take(debrief, series, events, tables) {
    const { desk } = this;
    this.playhead.setSpan(debrief.span, now_s());
    this.seeker.forget();
    Object.assign(desk, { debrief, series, events, tables, trouble: "", grown: false });
    desk.moments = momentsFrom(events, series.alarms, debrief.info, desk.clock);
    document.title = document.title.replace(/^.*(?= · Festoon$)/, debrief.info.title);
    this.#look();
  }

  /** Looks at a moment. It stops there: whoever jumps wants to look. @param {number} at_s */
  jump(at_s) {
    this.playhead.pause(now_s());
    this.playhead.jump(at_s, now_s());
    this.#stop();
    this.#look();
  }

  /** To the event or alarm before or after. @param {"event" | "alarm"} kind @param {1 | -1} way */
  step(kind, way) {
    const at_s = stepFrom(this.desk.moments, kind, way, this.playhead.at(now_s()));
    if (at_s !== null) this.jump(at_s);
    else this.pause();
  }

  play() {
    this.playhead.play(now_s());
    this.#go();
  }

  pause() {
    this.playhead.pause(now_s());
    this.#stop();
    this.#look();
  }

  /** @param {number} speed */
  setSpeed(speed) {
    this.playhead.setSpeed(speed, now_s());
    this.desk.speed = speed;
    this.#look();
  }

  /** @param {KnownClock} clock */
  async setClock(clock) {
    this.desk.clock = clock;
    this.desk.story = null;
    this.seeker.forget();
    this.#look();
    await this.load();
  }

  /** Puts something right, and loads again what follows from it. @param {import("../wire.js").Correction} correction */
  async correct(correction) {
    const { desk } = this;
    desk.told = "";
    try {
      const { taken } = await correct(this.run, correction);
      await this.load();
      desk.told = `Taken: ${taken.length === 1 ? "one event was" : `${taken.length} events were`} added to the run by ${correction.by}.`;
      desk.lessons = null;
      desk.comparison = null;
    } catch (error) {
      desk.told = `Not taken: ${whyNot(error)}`;
    }
  }

  /** What the runs say about the plan. @param {string[]} runs */
  async learn(runs) {
    await this.#ask(async () => (this.desk.lessons = await lessonsOf(runs)));
  }

  /** @param {string[]} runs */
  async compare(runs) {
    await this.#ask(async () => (this.desk.comparison = await comparisonOf(runs)));
  }

  /** Fetches a file that has to be made first, and gives it to the browser to keep. @param {string} address */
  async keep(address) {
    const { desk } = this;
    desk.told = "Making it";
    try {
      const { name, file } = await fileFrom(address);
      const link = Object.assign(document.createElement("a"), { href: URL.createObjectURL(file), download: name });
      link.click();
      window.setTimeout(() => URL.revokeObjectURL(link.href), KEEPING_MS);
      desk.told = "";
    } catch (error) {
      desk.told = `Not made: ${whyNot(error)}`;
    }
  }

  /** Which runs there are to stand beside this one. */
  async list() {
    await this.#ask(async () => (this.desk.others = (await libraryOf({ archived: "all" })).runs));
  }

  /** @param {() => Promise<unknown>} work */
  async #ask(work) {
    try {
      await work();
      this.desk.trouble = "";
    } catch (error) {
      this.desk.trouble = whyNot(error);
    }
  }

  #go() {
    this.desk.playing = this.playhead.playing;
    this.#look();
    if (!this.playhead.playing) return;
    if (this.playhead.isOver(now_s())) this.pause();
    else this.timer = window.setTimeout(() => this.#go(), PLAY_MS);
  }

  #stop() {
    if (this.timer !== null) window.clearTimeout(this.timer);
    this.timer = null;
    this.desk.playing = false;
  }

  /** Wants the moment of the playhead shown. */
  #look() {
    const at_s = this.playhead.at(now_s());
    this.wanted_s = at_s;
    this.cursor ??= window.setTimeout(() => this.#moveCursor(), CURSOR_MS);
    this.seeker.seek(at_s);
    if (this.rest !== null) window.clearTimeout(this.rest);
    this.rest = this.playhead.playing ? null : window.setTimeout(() => this.#prepare(at_s), REST_MS);
  }

  #moveCursor() {
    if (this.cursor !== null) window.clearTimeout(this.cursor);
    this.cursor = null;
    this.desk.at_s = this.wanted_s;
  }

  /** Asks ahead for what a next step would show. @param {number} at_s */
  #prepare(at_s) {
    const { moments } = this.desk;
    const near = [
      stepFrom(moments, "event", 1, at_s),
      stepFrom(moments, "event", -1, at_s),
      stepFrom(moments, "alarm", 1, at_s),
      stepFrom(moments, "alarm", -1, at_s),
    ];
    this.seeker.prepare(near.flatMap((each) => each ?? []));
  }

  /** @param {import("../wire.js").StateAt} state @param {number} at_s */
  #show(state, at_s) {
    const { desk, playhead } = this;
    if (!desk.debrief) return;
    const info = { ...desk.debrief.info, speed: playhead.playing ? playhead.speed : 0 };
    this.until_s = state.next_s ?? Infinity;
    desk.state = runStateFrom(state, info);
    desk.now_s = at_s;
    this.#moveCursor();
    if (state.version !== desk.debrief.version) desk.grown = true;
    if (playhead.playing && state.next_s !== null) this.seeker.prepare([state.next_s]);
  }
}

function now_s() {
  return performance.now() / 1000;
}
