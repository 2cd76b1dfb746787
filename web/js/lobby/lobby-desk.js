// @ts-check
// The lobby: which houses are running, since when, and when does each let out? And what is wrong in one of them, and who has it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { changeInWords } from "./changes.js";
import { alertsOf, statusOf } from "../live/aloud.js";
import { capital, countInWords } from "../words/format.js";
import { headlineIfKnown } from "../live/headline.js";
import { clocksOf, heldRunsInWords, houseLines, nextInWords, runNames, showingInWords, standingHouses, toTellPeople } from "./lobby.js";
import { askToHold, housesSaid, latestOf } from "./reports.js";
import { shared } from "../elements/shared.js";
import { answeredInWords } from "./house-reports.js";
import "./house-table.js";
import "./lobby-sheet.js";
import { lostInWords } from "../elements/lost-screen.js";
import "./report-question.js";
import "../elements/said-aloud.js";

/**
 * @typedef {import("../live/live.js").FollowedRun} FollowedRun
 * @typedef {import("./lobby.js").HouseLine} HouseLine
 * @typedef {import("./lobby.js").Order} Order
 * @typedef {import("../booth/taps.js").Observation} Observation
 */

const MANY = 12; // houses: chosen

export class LobbyDesk extends LitElement {
  /** @override */
  static properties = {
    runs: { attribute: false },
    order: { attribute: false },
    memory: { attribute: false },
    lost: { type: Boolean, reflect: true },
    age_s: { attribute: false },
    refusal: { attribute: false },
    role: { attribute: false },
    mine: { attribute: false },
    asked: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-direction: column;
        min-height: 100vh;
      }
      main {
        flex: 1;
        padding: clamp(0.8rem, 1.6vw, 2rem) clamp(0.9rem, 2.4vw, 3rem);
      }
      :host([lost]) main {
        filter: grayscale(1);
      }
      /* Where a report can be made without a connection too, what is old is hatched and stays in reach. */
      main.strip {
        background: repeating-linear-gradient(-45deg, transparent 0 22px, var(--surface) 22px 44px);
      }
      header {
        display: grid;
        grid-template-columns: minmax(0, 1fr) auto;
        gap: 0 1.5rem;
        align-items: start;
      }
      h1 {
        font-size: calc(clamp(1.3rem, 2.6vw, 2.5rem) * var(--head, 1));
        line-height: 1.1;
        letter-spacing: -0.015em;
        text-wrap: balance;
      }
      .site {
        color: var(--ink-2);
        font-size: max(0.85rem, clamp(1rem, 1.5vw, 1.5rem) * var(--head, 1));
      }
      /* Of many houses each needs room: what stands above them is smaller. */
      main.many {
        --head: 0.65;
        padding-block: 0.5rem;
      }
      .clocks {
        display: grid;
        justify-items: end;
      }
      time small {
        font-size: max(0.85rem, 0.35em);
        font-weight: 400;
        letter-spacing: 0;
        color: var(--ink-2);
      }
      time + time,
      time:not(:only-child) {
        font-size: calc(clamp(1.6rem, 3vw, 3rem) * var(--head, 1));
      }
      time {
        font-size: calc(clamp(2.2rem, 5vw, 4.8rem) * var(--head, 1));
        line-height: 1;
        font-weight: 600;
        letter-spacing: -0.03em;
      }
      .headline {
        grid-column: 1 / -1;
        justify-self: start;
        overflow-wrap: anywhere;
        font-size: calc(clamp(1.15rem, 2vw, 2rem) * var(--head, 1));
        line-height: 1.2;
        font-weight: 600;
        margin-top: 0.2rem;
      }
      .headline.act,
      .headline.watch {
        border: 3px solid var(--watch);
        border-radius: 0.3rem;
        padding: 0 0.5rem;
      }
      .headline.act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      .headline.calm {
        font-weight: 400;
      }
      .said {
        grid-column: 1 / -1;
        display: flex;
        flex-wrap: wrap;
        gap: 0.1rem 2rem;
        margin-top: 0.5rem;
      }
      .said,
      house-reports {
        font-size: calc(clamp(1.15rem, 2vw, 2rem) * var(--head, 1));
        line-height: 1.25;
      }
      .said p + p {
        font-weight: 700;
      }
      .demo {
        display: inline-block;
        border: 2px dashed var(--ink-2);
        border-radius: 0.3rem;
        margin-top: 0.3rem;
        padding: 0 0.6rem;
        font-weight: 600;
      }
      .fault {
        background: var(--act);
        color: var(--act-ink);
        border-radius: 0.4rem;
        margin-top: 0.6rem;
        padding: 0.6rem 1rem;
        font-size: calc(clamp(1.2rem, 2vw, 2rem) * var(--head, 1));
        font-weight: 700;
      }
      .said button {
        font-size: 1rem;
      }
      .stand {
        grid-column: 1 / -1;
        border-radius: 0.4rem;
        margin-top: 0.5rem;
        padding: 0.3rem 1rem;
        font-size: calc(clamp(1.4rem, 3vw, 3rem) * var(--head, 1));
        line-height: 1.15;
        font-weight: 700;
        background: var(--act);
        color: var(--act-ink);
      }
      .tell {
        grid-column: 1 / -1;
        margin-top: 0.3rem;
        font-size: calc(clamp(1.2rem, 2.2vw, 2.2rem) * var(--head, 1));
        line-height: 1.2;
        font-weight: 600;
      }
      .empty {
        font-size: clamp(1.4rem, 3vw, 3rem);
        line-height: 1.25;
        max-width: 34em;
        margin-top: 1rem;
        color: var(--ink-2);
      }
      .empty + .empty {
        font-size: clamp(1.1rem, 1.8vw, 1.8rem);
      }
      .houses {
        display: block;
        margin-top: 0.4rem;
      }
      main.answered {
        padding-bottom: 7rem;
      }
      .answer {
        position: fixed;
        inset: auto 0 0;
        padding: 0.5rem clamp(0.9rem, 2.4vw, 3rem);
        background: var(--surface);
        border-top: 3px solid var(--ink-3);
      }
      @media (max-width: 599px) {
        main.many {
          --head: 1;
        }
        .said button {
          font-size: 0.9rem;
        }
      }
      @media print {
        main,
        lost-screen,
        .answer,
        report-question {
          display: none;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {FollowedRun[] | null} */
    this.runs = null;
    /** @type {Order} */
    this.order = "starts";
    /** What the reader last looked at. @type {import("./changes.js").Memory} */
    this.memory = { seen: {}, noticed_ms: {} };
    this.lost = false;
    this.age_s = 0;
    /** @type {import("../live/connection.js").Refusal | null} */
    this.refusal = null;
    /** What this device may do; null until it is known. @type {import("../wire.js").Me["role"] | null} */
    this.role = null;
    /** Reports of this device. @type {import("./reports.js").Mine} */
    this.mine = {};
    /** The house that was touched, by the key of its line, or empty. */
    this.asked = "";
  }

  /** @override */
  render() {
    /** @type {FollowedRun[]} */
    const runs = this.runs ?? [];
    const lines = houseLines(runs, this.order, this.lost);
    const reports = this.#mayReport();
    const latest = reports ? latestOf(runs, this.mine) : null;
    const strip = this.lost && reports;
    return html`
      ${this.#aloud(runs, lines, latest)} ${strip ? this.#lost(lines, true) : nothing}
      <main class="${strip ? "strip" : ""} ${latest ? "answered" : ""} ${lines.length > MANY ? "many" : ""}">${lines.length ? this.#houses(runs, lines, latest) : this.#empty()}</main>
      ${reports ? this.#question(runs, lines) : nothing}
      ${latest ? html`<house-reports class="answer" .latest=${latest} @takeback=${this.#pass} @dismiss=${this.#pass}></house-reports>` : nothing}
      ${this.lost && !strip ? this.#lost(lines, false) : nothing}
      <lobby-sheet .runs=${runs} .lost=${this.lost}></lobby-sheet>
    `;
  }

  /** @param {FollowedRun[]} runs @param {HouseLine[]} lines @param {import("./reports.js").Said | null} latest */
  #aloud(runs, lines, latest) {
    const known = runs.flatMap(({ state, now_s }) => (state ? [{ state, now_s }] : []));
    const alerts = [this.lost ? lostInWords(this.refusal) : "", standingHouses(lines), ...known.flatMap(({ state, now_s }) => alertsOf(state, now_s))];
    const statuses = [...known.flatMap(({ state, now_s }) => statusOf(state, now_s, this.lost)), toTellPeople(lines), latest ? answeredInWords(latest) : ""];
    return html`<said-aloud .alerts=${alerts} .statuses=${lines.length ? statuses : [this.#waits()]}></said-aloud>`;
  }

  /** Why there is nothing to show. */
  #waits() {
    return this.runs?.length === 0 ? "No show is running." : "Waiting for the server";
  }

  /** Whether a report of this device is taken; a pairing that was withdrawn ends that. */
  #mayReport() {
    return (this.role === "report" || this.role === "booth") && this.refusal === null;
  }

  /** @param {HouseLine[]} lines @param {boolean} strip */
  #lost(lines, strip) {
    const todo = strip ? "Go on reporting: reports keep their time and are sent when it is back." : "Ask the booth.";
    return html`<lost-screen told ?strip=${strip} .age_s=${this.age_s} .refusal=${this.refusal} .asOf=${lines.length ? (clocksOf(this.runs ?? [], true)[0]?.text ?? "") : ""} .todo=${todo}></lost-screen>`;
  }

  #empty() {
    return html`
      <h1>Lobby</h1>
      <p class="empty">${this.#waits()}</p>
      ${this.runs?.length === 0 ? html`<p class="empty">The houses appear here by themselves once the booth has started Festoon with today's plan. Ask the booth.</p>` : nothing}
    `;
  }

  /** @param {FollowedRun[]} runs @param {HouseLine[]} lines @param {import("./reports.js").Said | null} latest what is answered below */
  #houses(runs, lines, latest) {
    const said = housesSaid(runs, this.mine, latest);
    return html`
      ${this.#header(runs, lines)}
      ${runs.map(({ line, state }) =>
        state?.fault ? html`<p class="fault">The times of ${line.title} are no longer kept up to date. Ask the booth.</p>` : nothing,
      )}
      ${runs.map(({ state }) => (state?.warnings ?? []).map((text) => html`<p class="fault">${text}</p>`))}
      <house-reports class="houses" .houses=${said} .films=${runs.length > 1} @takeback=${this.#pass} @dismiss=${this.#pass}></house-reports>
      <house-table
        .lines=${lines} .films=${runs.length > 1} .order=${this.order} .memory=${this.memory} ?reports=${this.#mayReport()}
        @order=${this.#pass}
        @report=${this.#ask}
      ></house-table>
    `;
  }

  /** What is wrong in the house that was touched? @param {FollowedRun[]} runs @param {HouseLine[]} lines */
  #question(runs, lines) {
    const asked = lines.find(({ key }) => key === this.asked);
    return html`<report-question
      .house=${asked?.house ?? ""} .station=${asked?.station ?? ""} .film=${runs.length > 1 ? (asked?.film ?? "") : ""}
      @say=${(/** @type {CustomEvent<Observation>} */ { detail }) => asked && this.#say(asked.run, detail)}
      @leave=${() => (this.asked = "")}
    ></report-question>`;
  }

  /** @param {FollowedRun[]} runs @param {HouseLine[]} lines */
  #header(runs, lines) {
    const sites = [...new Set(runs.flatMap(({ line }) => line.site ?? []))].join(", ");
    const [only] = runs;
    const [clocks, stands, tell] = [clocksOf(runs), standingHouses(lines), toTellPeople(lines)];
    const names = runs.length > 1 ? runNames(runs) : new Map();
    const demo = runs.find(({ line }) => line.demo)?.state?.info;
    return html`<header>
      <div>
        <h1>${only && runs.length === 1 ? only.line.title : "The houses now"}</h1>
        ${sites ? html`<p class="site">${sites}</p>` : nothing}
        ${demo ? html`<p class="demo">Demo: a simulated run${demo.speed === 1 ? "" : ` at ${demo.speed} times speed`}</p>` : nothing}
      </div>
      <div class="clocks">${clocks.map(({ town, text }) => html`<time>${town ? html`<small>${town} </small>` : nothing}${text}</time>`)}</div>
      ${runs.map(({ state, now_s }) => (state ? this.#headline(headlineIfKnown(state, now_s, this.lost), names.get(state.info.run) ?? "") : nothing))}
      ${stands ? html`<p class="stand">${stands}</p>` : nothing} ${tell ? html`<p class="tell">${tell}.</p>` : nothing}
      <div class="said">
        <p>${showingInWords(lines)}</p>
        <p>${nextInWords(lines, this.lost)}</p>
        ${heldRunsInWords(runs).map((held) => html`<p class="held">${held}</p>`)}
        ${this.#mayReport() ? runs.map(({ state }) => (state ? this.#hold(state, names.get(state.info.run) ?? "") : nothing)) : nothing}
        ${this.#changed(lines)}
      </div>
    </header>`;
  }

  /** @param {import("../live/headline.js").Headline | null} headline @param {string} run what it is called; empty where there is one */
  #headline(headline, run) {
    if (!headline) return nothing;
    const { kind, text } = headline;
    return html`<p class="headline ${kind}">${run ? `${run}: ` : ""}${text}</p>`;
  }

  /** @param {import("../live/store.js").RunState} state @param {string} run what it is called; empty where there is one */
  #hold(state, run) {
    const asks = askToHold(state);
    if (!asks) return nothing;
    return html`<button type="button" @click=${() => this.#say(state.info.run, asks)}>Ask to hold the start${run ? ` of ${run}` : ""}</button>`;
  }

  /** @param {HouseLine[]} lines */
  #changed(lines) {
    const count = lines.filter((line) => changeInWords(line, this.memory.seen[line.key])).length;
    if (count === 0) return nothing;
    const seen = () => this.dispatchEvent(new CustomEvent("seen"));
    return html`<button type="button" @click=${seen}>${capital(countInWords(count))} changed since you looked: mark as seen</button>`;
  }

  /** @param {CustomEvent<string>} event the key of a line */
  #ask({ detail }) {
    this.asked = detail;
  }

  /** @param {string} run @param {Observation} what */
  #say(run, what) {
    this.dispatchEvent(new CustomEvent("report", { detail: { run, what } }));
  }

  /** @param {CustomEvent} event */
  #pass({ type, detail }) {
    this.dispatchEvent(new CustomEvent(type, { detail }));
  }
}

customElements.define("lobby-desk", LobbyDesk);
