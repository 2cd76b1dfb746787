// @ts-check
// The booth desk: what must I do next, and did it register? Made for one hand, in the dark.

import { html, nothing } from "../../vendor/lit.js";
import { ackOf, alarmsHere, alarmsThatSound, becameInWords, saidCalls } from "./calls.js";
import { boardFrom, wordsOf } from "../live/alarms.js";
import { alertsOf, brokenInWords, statusOf } from "../live/aloud.js";
import { clockText, houseClock } from "../words/format.js";
import { headlineIfKnown, recovering } from "../live/headline.js";
import { heatFrom, heatInWords } from "../live/heat.js";
import { firstStart } from "../live/hold.js";
import { pinsFor } from "./pinned.js";
import { restTextIn } from "../live/quiet.js";
import { boothsOf, stationsIn, stepsToDo } from "../live/steps.js";
import { latestLine, logLines } from "./taps.js";
import { boothLayout } from "./booth-layout.js";
import { latestInWords } from "./event-log.js";
import { lostInWords } from "../elements/lost-screen.js";
import { RunDesk } from "../elements/run-desk.js";
import { shared } from "../elements/shared.js";
import "../elements/alarm-board.js";
import "./booth-filter.js";
import "./call-form.js";
import "./call-list.js";
import "../elements/desk-links.js";
import "../elements/heat-block.js";
import "./next-steps.js";
import "./pinned-bar.js";
import "../elements/restart-card.js";
import "../elements/run-header.js";
import "../elements/said-aloud.js";
import "./station-pad.js";
import "./station-picker.js";
import "../elements/tablet-notices.js";
import "./tablet-state.js";

/**
 * @typedef {import("./taps.js").Observation} Observation
 * @typedef {import("./taps.js").LogLine} LogLine
 * @typedef {import("../live/store.js").RunState} RunState
 */

const LINES = 10; // of who did what at a glance; the rest is one touch further: chosen

export class BoothDesk extends RunDesk {
  /** @override */
  static properties = {
    taps: { attribute: false },
    keepsTaps: { attribute: false },
    otherRuns: { attribute: false },
    account: { attribute: false },
    by: { attribute: false },
    booth: { attribute: false },
    dark: { attribute: false },
    sound: { attribute: false },
    awake: { attribute: false },
    shell: { attribute: false },
    chosen: { state: true },
    pins: { state: true },
  };

  /** @override */
  static styles = [shared, boothLayout];

  constructor() {
    super();
    /** Taps of this desk. @type {import("./taps.js").Tap[]} */
    this.taps = [];
    this.keepsTaps = true;
    /** Other runs for which taps wait on this device. @type {string[]} */
    this.otherRuns = [];
    /** For whom the device is paired. @type {string | null} */
    this.account = null;
    /** Who taps; empty for nobody in particular, null where it was never asked. @type {string | null} */
    this.by = null;
    /** The booth that is shown; none or empty for all. @type {string | null} */
    this.booth = null;
    this.dark = true;
    /** @type {import("../live/signals.js").SoundState} */
    this.sound = "off";
    this.awake = false;
    /** @type {import("../pages/shell.js").ShellState} */
    this.shell = "fetching";
    /** The station whose pad is shown; null for the whole chain. @type {string | null} */
    this.chosen = null;
    /** What is out of reach on this screen. @type {import("./pinned.js").Pin[]} */
    this.pins = [];
    this.look = () => this.#look();
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    for (const moved of ["scroll", "resize"]) window.addEventListener(moved, this.look, { passive: true });
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    for (const moved of ["scroll", "resize"]) window.removeEventListener(moved, this.look);
  }

  /** @override */
  updated() {
    if (this.dark) document.documentElement.dataset["theme"] = "dark";
    else delete document.documentElement.dataset["theme"];
    requestAnimationFrame(this.look);
  }

  /** Finds what is out of reach, and pins it; and how high what is pinned stands, so that the end of the page can be scrolled above it. */
  #look() {
    const box = (/** @type {Element | null | undefined} */ element) => element?.getBoundingClientRect() ?? null;
    const part = (/** @type {string} */ host, /** @type {string} */ found) => box(this.renderRoot.querySelector(host)?.shadowRoot?.querySelector(found));
    const above = part("lost-screen", ".what")?.bottom ?? 0;
    const bar = box(this.renderRoot.querySelector(".latest"));
    if (!bar) return;
    this.style.setProperty("--pinned", `${Math.ceil(bar.height)}px`);
    // Until somebody has seen it, its acknowledge is what must be in reach: a low screen shows the end of a block alone.
    const heat = part("heat-block", ".acknowledge") ?? part("heat-block", "section");
    const alarm = part("alarm-board", "li.alarm:not(.note) .answers > button") ?? part("alarm-board", "li.alarm:not(.note)");
    const places = { alarm: heat ?? alarm, step: part("next-steps", "li button"), stop: part("station-pad", ".chain-stop") };
    const pins = pinsFor(places, above, bar.top);
    if (pins.join() !== this.pins.join()) this.pins = pins;
  }

  /** @override */
  render() {
    const { state } = this;
    const waits = this.trouble || "Waiting for the server";
    return html`
      ${this.#aloud(waits)} ${this.lost ? this.#lost() : nothing}
      <main>${
        state
          ? this.#desk(state)
          : html`<h1 class="unseen">Booth</h1>
              <p class="empty">${waits}</p>
              <a class="empty" href="/">All live runs</a>`
      }</main>
    `;
  }

  /** @param {string} waits why there is nothing to show */
  #aloud(waits) {
    const { state, lost } = this;
    const gone = lost ? lostInWords(this.refusal) : "";
    const [alerts, statuses] = state ? this.#told(state) : [[], [waits]];
    return html`<said-aloud .alerts=${[gone, ...alerts]} .statuses=${statuses}></said-aloud>`;
  }

  /** What interrupts, and what waits. @param {RunState} state @returns {[string[], string[]]} */
  #told(state) {
    const { now_s, lost } = this;
    const lines = logLines(this.taps, state.events);
    const here = this.#here(state.info);
    const latest = latestLine(this.taps, lines);
    const calls = saidCalls(state, lines, here, now_s).map((said) => `${said.line.event.text ?? ""}: ${becameInWords(said, houseClock(state.info))}`);
    const statuses = [...statusOf(state, now_s, lost), latest ? latestInWords(latest, state.info) : "", ...calls];
    return [alertsOf(state, now_s, alarmsHere(state, lines, here)), statuses];
  }

  #lost() {
    const asOf = this.state ? clockText(houseClock(this.state.info), this.now_s, true) : "";
    const todo = this.refusal === "no run" ? "Taps made here stay on this device." : "Go on tapping: taps keep their time and are sent when it is back.";
    return html`<lost-screen
      strip
      told
      .age_s=${this.age_s}
      .asOf=${asOf}
      .refusal=${this.refusal}
      .todo=${todo}
    ></lost-screen>`;
  }

  /** @param {RunState} state */
  #desk(state) {
    const lines = logLines(this.taps, state.events);
    const latest = latestLine(this.taps, lines);
    const others = lines.filter((line) => line !== latest);
    return html`
      ${this.#header(state)}
      <heat-block in-hand class="old" .alarms=${state.alarms} .info=${state.info} .now_s=${this.now_s} .lost=${this.lost} @acknowledge=${this.#acknowledge} @tap=${this.#tapped}></heat-block>
      <div class="do">${this.#todo(state, lines)}</div>
      <div class="pad">${state.restart?.before === "restart" ? this.#card(state, lines) : nothing} ${this.#pad(state)}</div>
      <div class="log">
        <section aria-label="Who did what">
          <h2>Who did what</h2>
          ${this.#log(state, others.slice(0, LINES))}
          ${others.length > LINES ? html`<details><summary>Earlier</summary>${this.#log(state, others.slice(LINES))}</details>` : nothing}
        </section>
        <desk-links .run=${state.info.run} here="booth"></desk-links>
      </div>
      <section class="latest ${this.pins.length > 1 ? "full" : ""} ${latest ? "" : "untouched"}" aria-label="Answer">
        ${this.#pinned(state, lines)}
        <tablet-notices .sound=${this.sound} .awake=${this.awake} .shell=${this.shell} .keepsTaps=${this.keepsTaps} .otherRuns=${this.otherRuns}></tablet-notices>
        <event-log latest .lines=${latest ? [latest] : []} .info=${state.info} @takeback=${this.#takeBack} @move=${this.#pass} @dismiss=${this.#pass}></event-log>
      </section>
    `;
  }

  /** What must be in the hand and is not in sight. @param {RunState} state @param {LogLine[]} lines */
  #pinned(state, lines) {
    const [next] = stepsToDo(state, lines, this.now_s, this.#booth(state.info));
    return html`<pinned-bar
      .pins=${this.pins} .called=${this.#called(state, lines)} .step=${next ?? null} .clock=${houseClock(state.info)} .now_s=${this.now_s} .lost=${this.lost}
      @acknowledge=${this.#acknowledge}
      @tap=${this.#tapped}
    ></pinned-bar>`;
  }

  /** What calls first, as its block says it: film in the light is one call. @param {RunState} state @param {LogLine[]} lines @returns {import("./pinned-bar.js").Called | null} */
  #called(state, lines) {
    const alarms = alarmsHere(state, lines, this.#here(state.info));
    const { groups } = boardFrom(alarms, this.now_s, state.prompts);
    const heat = heatFrom(alarms, state.info);
    const first = heat[0] ?? groups[0]?.alarm;
    if (!first || first.level === "note") return null;
    const [words] = heat.length ? [heatInWords(heat, state.info).todo] : wordsOf(first, recovering(state, this.now_s).has(first.subject));
    const keys = (heat.length ? heat : [first]).filter((alarm) => alarm.state !== "acknowledged").map(({ key }) => key);
    return { level: first.level, words, keys };
  }

  /** @param {RunState} state @param {LogLine[]} lines */
  #log({ info }, lines) {
    return html`<event-log .lines=${lines} .info=${info} @takeback=${this.#takeBack} @dismiss=${this.#pass}></event-log>`;
  }

  /** @param {RunState} state */
  #header(state) {
    const { info } = state;
    return html`<header>
      <run-header class="old" .info=${info} .headline=${headlineIfKnown(state, this.now_s, this.lost)} .now_s=${this.now_s}></run-header>
      <booth-filter .booths=${boothsOf(info)} .chosen=${this.#booth(info)} @booth=${this.#chooseBooth}></booth-filter>
      <call-form .booths=${info.booths} @tap=${this.#tapped}></call-form>
      <tablet-state
        .sound=${this.sound} .awake=${this.awake} .shell=${this.shell}
        .account=${this.account} .by=${this.by}
        .dark=${this.dark}
        @named=${this.#named}
        @try=${this.#pass}
        @dark=${this.#darken}
      ></tablet-state>
    </header>`;
  }

  /** One print, one chain: alarms are everybody's, whatever the booth. @param {RunState} state @param {LogLine[]} lines */
  #todo(state, lines) {
    const { now_s } = this;
    const clock = houseClock(state.info);
    const booth = this.#booth(state.info);
    const steps = stepsToDo(state, lines, now_s, booth);
    const here = this.#here(state.info);
    return html`
      ${state.fault ? html`<p class="fault">${brokenInWords(state.fault)}</p>` : nothing}
      ${state.warnings.map((text) => html`<p class="fault">${text}</p>`)}
      <section class="old alarms" aria-label="Alarms">
        <alarm-board
          in-hand
          .alarms=${alarmsHere(state, lines, here)}
          .prompts=${state.prompts}
          .reports=${state.reports} .start=${{ hold_s: state.hold_s, start_s: firstStart(state) }}
          .clock=${clock}
          .quiet=${this.lost ? `No alarm was known at ${clockText(clock, now_s, true)}` : ""}
          .now_s=${now_s} .recovering=${recovering(state, now_s)}
          @acknowledge=${this.#acknowledge}
          @shelve=${this.#shelve}
          @tap=${this.#tapped}
        ></alarm-board>
      </section>
      <call-list .calls=${saidCalls(state, lines, here, now_s)} .clock=${clock}></call-list>
      ${steps.length === 0 && state.restart?.before === "restart" ? nothing : this.#steps(state, steps, booth)}
      ${state.restart?.before === "start" ? this.#card(state, lines) : nothing}
    `;
  }

  /** @param {RunState} state @param {LogLine[]} lines */
  #card(state, lines) {
    const booth = this.#booth(state.info);
    return html`<restart-card in-hand class="old" .state=${state} .lines=${lines} .booth=${booth} .now_s=${this.now_s} .lost=${this.lost} @tap=${this.#tapped}></restart-card>`;
  }

  /** @param {RunState} state @param {import("../live/steps.js").Step[]} steps @param {string | null} booth */
  #steps(state, steps, booth) {
    const { now_s } = this;
    return html`<section class="old" aria-label="Next">
      <next-steps .steps=${steps} .clock=${houseClock(state.info)} .empty=${restTextIn(booth, state, now_s)} .now_s=${now_s} .lost=${this.lost} @done=${this.#tapped}></next-steps>
    </section>`;
  }

  /** @param {RunState} state */
  #pad(state) {
    const place = state.info.stations.findIndex(({ id }) => id === this.chosen);
    const house = state.info.stations[place]?.house;
    return html`
      <station-picker .state=${state} .shown=${stationsIn(state.info, this.#booth(state.info))} .chosen=${this.chosen} @choose=${this.#choose}></station-picker>
      <section aria-label="Pad">
        <h2>${house === undefined ? "The whole chain" : `House ${house}`}</h2>
        <station-pad
          .station=${state.stations[place] ?? null}
          .house=${house ?? ""}
          .link=${state.links[place - 1] ?? null}
          .info=${state.info}
          .now_s=${this.now_s}
          .lost=${this.lost}
          @tap=${this.#tapped}
        ></station-pad>
      </section>
    `;
  }

  /** The booth that was chosen, where this run has it; null for all. @param {import("../wire.js").RunInfo} info */
  #booth(info) {
    return boothsOf(info).find((booth) => booth === this.booth) ?? null;
  }

  /** Which booth this desk is for, and who taps at it. @param {import("../wire.js").RunInfo} info @returns {import("./calls.js").Here} */
  #here(info) {
    return { booth: this.#booth(info), me: this.account ?? this.by };
  }

  /** The alarms that sound at this desk. @returns {import("../wire.js").Alarm[]} */
  alarmsThatSound() {
    const { state } = this;
    return state ? alarmsThatSound(state, logLines(this.taps, state.events), this.#here(state.info)) : [];
  }

  /** @param {CustomEvent<string | null>} event */
  #choose({ detail }) {
    this.chosen = detail;
  }

  /** @param {CustomEvent<string | null>} event */
  #chooseBooth(event) {
    this.booth = event.detail;
    this.#pass(event);
  }

  /** One thing that was seen, or several in their order. @param {CustomEvent<Observation | Observation[]>} event */
  #tapped({ detail }) {
    for (const what of [detail].flat()) this.#observe(what);
  }

  /** @param {CustomEvent<string>} event */
  #takeBack({ detail }) {
    this.#observe({ kind: "retract", retracts: detail });
  }

  /** @param {CustomEvent<string>} event */
  #acknowledge({ detail }) {
    if (this.state) this.#observe(ackOf(detail, this.state));
  }

  /** @param {CustomEvent<{alarm: string, seconds: number}>} event */
  #shelve({ detail }) {
    this.#observe({ kind: "shelve", ...detail });
  }

  /** @param {Observation} what */
  #observe(what) {
    const by = this.account ?? this.by;
    this.#tell("observe", by ? { ...what, by } : what);
  }

  /** @param {CustomEvent<string>} event */
  #named(event) {
    this.by = event.detail;
    this.#pass(event);
  }

  /** @param {CustomEvent<boolean>} event */
  #darken(event) {
    this.dark = event.detail;
    this.#pass(event);
  }

  /** @param {CustomEvent} event */
  #pass({ type, detail }) {
    this.#tell(type, detail);
  }

  /** @param {string} name @param {unknown} detail */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

customElements.define("booth-desk", BoothDesk);
