// @ts-check
// What is missing before a chain that stands may start, and when it is to start: to act on in the booth, to read on the wall.
// It stops nobody. Before the first start it is quiet, and a crew that says nothing is asked for nothing; whoever is waited for
// is told largest in the last minute.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { boardFrom } from "../live/alarms.js";
import { BEFORE_RESTART, CAUTIONS, SITE_RULES } from "../live/cautions.js";
import { capital, houseClock, timeText } from "../words/format.js";
import { heldInWords } from "../live/hold.js";
import { askedOf, besideReady } from "../live/ready.js";
import {
  READY_MEANS,
  WAITS,
  doneLinks,
  doneStations,
  holdBy,
  holdWords,
  lacingLeft,
  linkRows,
  missingByBooth,
  partOf,
  standAt,
  standOf,
  startIn,
  stationRows,
  touchKey,
} from "../live/restart.js";
import { stationsIn } from "../live/steps.js";
import { shared } from "./shared.js";
import "./slack-reading.js";
import "./who-is-ready.js";

/**
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {import("../wire.js").RestartCard} Card
 * @typedef {import("../live/restart.js").Touch} Touch
 * @typedef {import("../booth/taps.js").Observation} Observation
 */

const READ_MOST = 200; // letters that a wall has room for: what is more is counted there. Chosen
const HOLDS_MIN = [1, 5]; // chosen
const STARTS_MIN = [1, 2, 5]; // chosen

export class RestartCard extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    lines: { attribute: false },
    booth: { attribute: false },
    now_s: { attribute: false },
    lost: { attribute: false },
    inHand: { type: Boolean, attribute: "in-hand", reflect: true },
    reading: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      section {
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.6rem 0.9rem 0.7rem;
      }
      .start {
        color: var(--ink-2);
        border-color: var(--rule);
      }
      .missing .stand {
        border-left: 0.4rem solid var(--watch);
        padding-left: 0.6rem;
      }
      /* Room for the countdown: the buttons under it stay where they are when a start is set. */
      :host([in-hand]) .missing .stand {
        min-height: 4rem;
      }
      h3 {
        font-size: 1rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .stand {
        font-size: 1.5rem;
        line-height: 1.15;
        font-weight: 600;
        margin: 0.2rem 0 0.3rem;
      }
      .stand b {
        font-size: 2.2rem;
        line-height: 1;
      }
      .stand small {
        font-size: 1rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .start .stand {
        font-size: 1.1rem;
        font-weight: 400;
      }
      .start .stand b {
        font-size: 1.3rem;
      }
      .lacks {
        font-size: 1.05rem;
        line-height: 1.3;
      }
      .rows li {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 0.5rem;
        min-height: 3.6rem;
        padding: 0.3rem 0;
        border-top: 1px solid var(--rule);
      }
      .rows .name {
        flex: 1 1 6.5rem;
        min-width: 0;
      }
      .means {
        font-size: 0.95rem;
        color: var(--ink-2);
        padding-bottom: 0.3rem;
      }
      .rows b {
        font-size: 1.15rem;
      }
      .rows small {
        display: block;
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      slack-reading {
        flex: 1 1 100%;
      }
      [aria-disabled="true"] {
        border: 2px dashed var(--ink-2);
        background: none;
        color: var(--ink-2);
        cursor: default;
      }
      /* What was touched keeps its size and place: nothing else comes under the finger. */
      .so {
        border: 2px solid transparent;
        position: relative;
      }
      .so::before {
        content: "✓";
        position: absolute;
        left: 0;
      }
      .done span {
        display: block;
        font-size: 1.05rem;
        line-height: 1.3;
        color: var(--ink);
      }
      .caution {
        font-size: 0.95rem;
        line-height: 1.3;
        color: var(--ink-2);
        margin: 0.4rem 0;
      }
      .times {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.4rem;
        margin: 0.2rem 0 0.4rem;
      }
      .held {
        margin-left: 0.4rem;
      }
      details > summary {
        padding: 0.8rem 0;
      }
      :host(:not([in-hand])) .restart .stand {
        font-size: 1.75rem;
      }
      :host(:not([in-hand])) .restart .stand b {
        font-size: 2.5rem;
      }
      :host(:not([in-hand])) .start {
        border: 0;
        padding: 0;
      }
      :host(:not([in-hand])) .start .head {
        display: flex;
        align-items: baseline;
        gap: 0.8rem;
      }
      @media (max-width: 1599px) {
        :host(:not([in-hand])) .restart .stand {
          font-size: 1.4rem;
        }
        :host(:not([in-hand])) .restart .stand b {
          font-size: 2rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {RunState | null} */
    this.state = null;
    /** Who did what. @type {import("../booth/taps.js").LogLine[]} */
    this.lines = [];
    /** Whose stations can be answered here; null for all. @type {string | null} */
    this.booth = null;
    this.now_s = 0;
    /** Whether the server is away: then nothing is counted down. */
    this.lost = false;
    /** Whether it can be answered here. */
    this.inHand = false;
    /** The link that is being read, or empty. */
    this.reading = "";
    /** Whether links that are done are told in one line: not while one of them is read in its row. */
    this.linksFold = true;
    /** What was touched here since the chain stands. @type {Set<string>} */
    this.touched = new Set();
  }

  /** @override */
  willUpdate() {
    const { state } = this;
    if (!state?.restart) return;
    this.linksFold = doneLinks(this.#ours(state.restart, state), state.info) !== "" && (this.linksFold || this.reading === "");
  }

  /** @override */
  render() {
    const { state } = this;
    const card = state?.restart ? askedOf(state.restart) : null;
    if (!state || !card) return nothing;
    const quiet = card.before === "start";
    return html`<section class="${card.before} ${card.ready ? "ready" : quiet ? "" : "missing"}" aria-label=${quiet ? "Before the start" : "Before the chain starts again"}>
      ${this.#stand(card, state)} ${this.inHand ? this.#times(card, state) : nothing}
      <div class="lacks">${this.#rest(card, state)}</div>
      ${quiet || this.#heatIsRead(state) ? nothing : this.#caution(card)}
    </section>`;
  }

  /** What is missing, to be answered or to be read; before the start who is ready stands apart. @param {Card} card @param {RunState} state */
  #rest(card, state) {
    if (card.before === "restart") return this.inHand ? this.#inHand(card, state) : this.#lacks(card, state);
    const rest = besideReady(card);
    return html`<who-is-ready ?in-hand=${this.inHand} .card=${card} .ours=${this.#ours(card, state)} .state=${state} .lines=${this.lines} .now_s=${this.now_s} @tap=${this.#ready}></who-is-ready>
      ${this.inHand ? this.#others(rest, state) : this.#lacks(rest, state)}`;
  }

  /** What else is missing before the start, behind one line. @param {Card} rest @param {RunState} state */
  #others(rest, state) {
    const isTouched = (/** @type {string} */ station) => ["douser_shut", "lamp_out"].some((kind) => this.touched.has(touchKey(station, kind)));
    const open = { ...rest, stations: rest.stations.filter(({ station, missing }) => missing.length > 0 || isTouched(station)) };
    if (open.stations.length === 0) return nothing;
    return html`<details>
      <summary>What else is missing</summary>
      ${this.#inHand(open, state)}
    </details>`;
  }

  /** Whether a wall calls for the dousers first: nobody starts anything before. @param {RunState} state */
  #heatIsRead({ alarms }) {
    return !this.inHand && boardFrom(alarms).heat.length > 0;
  }

  /** How it stands, with the countdown that every desk has; that is not read out second by second. @param {Card} card @param {RunState} state */
  #stand(card, state) {
    const { text, time, after } = standOf(card, this.now_s);
    const at = card.start_s === null ? "" : timeText(houseClock(state.info), card.start_s, this.now_s, true);
    const said = standAt(card, this.now_s, at);
    return html`<div class="head">
        <h3>${card.before === "start" ? "Before the start" : "Before the chain starts again"}</h3>
        <p class="stand">
        ${this.lost || time === "" ? said : html`${text} <b>${time}</b> ${after} <small>(${at})</small>`}
        </p>
      </div>`;
  }

  /** What is missing and which booth has it. @param {Card} card @param {RunState} state */
  #lacks(card, { info }) {
    const lacks = missingByBooth(card, info);
    if (!this.inHand && lacks.reduce((sum, { text }) => sum + text.length, 0) > READ_MOST) {
      return html`<p>${lacks.map(({ booth, count }) => `${booth || "Here"}: ${count}`).join(" · ")}. The booth desks have the list.</p>`;
    }
    return lacks.map(({ booth, text }) => html`<p>${booth ? html`<b>${booth}:</b> ` : nothing}${text}</p>`);
  }

  /** What of the card is answered here. @param {Card} card @param {RunState} state */
  #ours(card, { info }) {
    const ours = new Set(stationsIn(info, this.booth));
    return partOf(card, info, (station) => ours.has(station));
  }

  /** Own stations to be touched, those of other booths to be read. @param {Card} card @param {RunState} state */
  #inHand(card, state) {
    const ours = this.#ours(card, state);
    const others = partOf(card, state.info, (station) => !ours.stations.some((one) => one.station === station));
    return html`${this.#rows(ours, state)} ${this.#lacks(others, state)}`;
  }

  /** @param {Card} card @param {RunState} state */
  #rows(card, state) {
    const stations = repeat(
      stationRows(card, this.touched, state, this.lines, this.now_s),
      ({ station }) => station,
      (row) => this.#station(row, state),
    );
    if (card.before === "start") return html`<ul class="rows">${stations}</ul>`;
    const rows = linkRows(card, state, this.lines, this.now_s);
    const links = repeat(
      rows,
      ({ link }) => link,
      (row) => this.#link(row, state),
    );
    const [stationsDone, linksDone] = [doneStations(card, state.info), doneLinks(card, state.info)];
    const left = lacingLeft(rows);
    return html`${stationsDone.length ? this.#folded(stationsDone, stations) : html`<p class="means">Ready: ${READY_MEANS}.</p><ul class="rows">${stations}</ul>`}
    ${this.linksFold ? this.#folded(left ? [linksDone, left] : [linksDone], links) : rows.length ? html`<ul class="rows">${links}</ul>` : nothing}`;
  }

  /** What is done, in a line, with its rows behind it. @param {string[]} said @param {unknown} rows */
  #folded(said, rows) {
    return html`<details>
      <summary class="done">${said.map((line) => html`<span>${line}</span>`)}</summary>
      <ul class="rows">${rows}</ul>
    </details>`;
  }

  /** @param {import("../live/restart.js").StationRow} row @param {RunState} state */
  #station({ name, booth, ready_s, ready_by, later, touches }, { info }) {
    const since = ready_s === null ? booth : `✓ ready since ${timeText(houseClock(info), ready_s, this.now_s)}${ready_by ? `, by ${ready_by}` : ""}`;
    const waits = touches.some(({ tapped }) => tapped) ? WAITS : "";
    return html`<li>
      <span class="name"><b>${name}</b> <small>${[since, later, waits].filter(Boolean).join("; ")}</small></span>
      ${touches.map((touch) => this.#touch(touch, name))}
    </li>`;
  }

  /** @param {Touch} touch @param {string} name */
  #touch({ label, done, isSo, tapped }, name) {
    const tap = () => this.#tell(done);
    const said = isSo ? ", done" : tapped ? `, said: ${WAITS}` : "";
    const isShut = isSo || tapped !== null;
    return html`<button type="button" class=${isSo ? "so" : ""} aria-disabled=${isShut} @click=${isShut ? nothing : tap} aria-label="${name}: ${label.toLowerCase()}${said}">${label}</button>`;
  }

  /** @param {import("../live/restart.js").LinkRow} row @param {RunState} state */
  #link(row, { info }) {
    const { link, station, name, known, said, lacing, relaced } = row;
    const isOpen = this.reading === link;
    const reserve_s = info.links.find(({ id }) => id === link)?.reserve_s ?? 0;
    const toggle = () => (this.reading = isOpen ? "" : link);
    return html`<li>
      <span class="name"><b>${name}</b> <small>${known ? "✓ " : ""}${said}${lacing ? `, ${lacing}` : ""}${relaced.tapped ? `; ${WAITS}` : ""}</small></span>
      <button type="button" aria-expanded=${isOpen ? "true" : "false"} @click=${toggle} aria-label="${name}: read">Read</button>
      ${this.#touch({ ...relaced, label: "Laced anew, at rest" }, name)}
      ${isOpen ? html`<slack-reading .station=${station} .reserve_s=${reserve_s} @tap=${this.#read}></slack-reading>` : nothing}
    </li>`;
  }

  /** @param {Card} card */
  #caution({ stations, start_s }) {
    const strike = start_s !== null && stations.some(({ missing }) => missing.includes("lamp_lit"));
    return html`<p class="caution">${BEFORE_RESTART} ${strike ? `To strike: ${CAUTIONS.strike}` : ""} ${SITE_RULES}</p>`;
  }

  /** When it is to start. @param {Card} card @param {RunState} state */
  #times({ before, start_s }, state) {
    const { hold_s } = state;
    const start = { hold_s, start_s: start_s ?? Infinity };
    const button = (/** @type {string} */ words, /** @type {() => Observation} */ what) =>
      html`<button type="button" @click=${() => this.#tell(what())}>${words}</button>`;
    return html`<div class="times" role="group" aria-label="When it starts">
      ${
        before === "restart"
          ? STARTS_MIN.map((minutes) => button(`Start in ${minutes} min`, () => startIn(this.now_s, minutes)))
          : html`${HOLDS_MIN.map((minutes) => button(holdWords(start.start_s, minutes, this.now_s), () => holdBy(start, minutes, this.now_s)))}
            ${hold_s === 0 ? nothing : html`<span class="held">${capital(heldInWords(state))}</span> ${button("Back to the plan", () => ({ kind: "hold", seconds: 0 }))}`}`
      }
    </div>`;
  }

  /** @param {CustomEvent<Observation>} event */
  #read({ detail }) {
    this.reading = "";
    this.#tell(detail);
  }

  /** @param {CustomEvent<Observation>} event */
  #ready({ detail }) {
    this.dispatchEvent(new CustomEvent("tap", { detail }));
  }

  /** @param {Observation} what */
  #tell(what) {
    if (what.station) this.touched.add(touchKey(what.station, what.kind));
    this.dispatchEvent(new CustomEvent("tap", { detail: what }));
  }
}

customElements.define("restart-card", RestartCard);
