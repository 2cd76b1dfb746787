// @ts-check
// The lobby: which houses are running, since when, and when does each let out?

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { changeInWords } from "../changes.js";
import { clockText, countInWords, houseClock } from "../format.js";
import { heldRunsInWords, houseLines, nextInWords, showingInWords, standingHouses } from "../lobby.js";
import { shared } from "./shared.js";
import "./lost-screen.js";

/**
 * @typedef {import("../live.js").FollowedRun} FollowedRun
 * @typedef {import("../lobby.js").HouseLine} HouseLine
 * @typedef {import("../lobby.js").Order} Order
 */

/** What each column is called, and what it is sorted by. @type {{name: string, order: Order}[]} */
const COLUMNS = [
  { name: "House", order: "house" },
  { name: "Now, by start", order: "starts" },
  { name: "Then, by let-out", order: "lets out" },
];

export class LobbyDesk extends LitElement {
  /** @override */
  static properties = {
    runs: { attribute: false },
    order: { attribute: false },
    memory: { attribute: false },
    lost: { type: Boolean, reflect: true },
    age_s: { attribute: false },
    refusal: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        min-height: 100vh;
        padding: clamp(0.8rem, 1.6vw, 2rem) clamp(0.9rem, 2.4vw, 3rem);
      }
      :host([lost]) main {
        filter: grayscale(1);
      }
      header {
        display: grid;
        grid-template-columns: minmax(0, 1fr) auto;
        gap: 0 1.5rem;
        align-items: start;
      }
      h1 {
        font-size: clamp(1.3rem, 2.6vw, 2.5rem);
        line-height: 1.1;
        letter-spacing: -0.015em;
        text-wrap: balance;
      }
      .site {
        color: var(--ink-2);
        font-size: clamp(1rem, 1.5vw, 1.5rem);
      }
      time {
        font-size: clamp(2.2rem, 5vw, 4.8rem);
        line-height: 1;
        font-weight: 600;
        letter-spacing: -0.03em;
      }
      .said {
        grid-column: 1 / -1;
        display: flex;
        flex-wrap: wrap;
        gap: 0.1rem 2rem;
        margin-top: 0.5rem;
        font-size: clamp(1.15rem, 2vw, 2rem);
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
        font-size: clamp(1.2rem, 2vw, 2rem);
        font-weight: 700;
      }
      /* A television does not scroll: the print is as large as the number of houses lets it be. */
      table {
        width: 100%;
        margin-top: 0.5rem;
        font-size: clamp(1.15rem, min(3vw, (100vh - 17rem) / var(--houses, 8) * 0.5), 3.4rem);
        line-height: 1.15;
      }
      th,
      td {
        padding: 0.38em 1em 0.38em 0;
        vertical-align: baseline;
        white-space: normal;
      }
      th:last-child,
      td:last-child {
        padding-right: 0;
        width: 48%;
      }
      thead th {
        font-size: max(0.9rem, 0.5em);
        padding-block: 0.2em;
      }
      tbody th {
        width: 1%;
        padding-right: 1.6em;
        font-weight: 700;
        white-space: nowrap;
      }
      td small {
        display: inline-block;
        font-size: max(0.95rem, 0.6em);
        color: var(--ink-2);
      }
      td * + small {
        margin-left: 0.8em;
      }
      td .change {
        border: 2px solid var(--watch);
        border-radius: 0.25rem;
        padding: 0 0.4em;
        color: var(--ink);
        font-weight: 700;
      }
      thead button {
        border: 0;
        padding: 0 0.6rem 0 0;
        background: none;
        color: inherit;
        text-align: start;
        text-decoration: underline;
        text-decoration-color: var(--rule);
        text-underline-offset: 0.25em;
      }
      [aria-sort="ascending"] button {
        color: var(--ink);
        font-weight: 700;
        text-decoration: none;
      }
      .said button {
        font-size: 1rem;
      }
      td.film {
        font-size: max(1rem, 0.7em);
        color: var(--ink-2);
      }
      .before td,
      .soon td,
      .clear > * {
        color: var(--ink-2);
      }
      .showing .now,
      .soon .now {
        color: var(--ink);
        font-weight: 700;
      }
      .over .next b {
        background: var(--ink);
        color: var(--ground);
        border-radius: 0.15em;
        padding: 0.04em 0.35em 0.08em;
      }
      .stand {
        grid-column: 1 / -1;
        border-radius: 0.4rem;
        margin-top: 0.5rem;
        padding: 0.3rem 1rem;
        font-size: clamp(1.4rem, 3vw, 3rem);
        line-height: 1.15;
        font-weight: 700;
        background: var(--act);
        color: var(--act-ink);
      }
      .stands .now b {
        font-weight: 700;
        border: 0.09em solid var(--act);
        border-radius: 0.2em;
        padding: 0 0.3em;
      }
      .dark .now b,
      .stopped .now b {
        border: 0.09em solid var(--watch);
        border-radius: 0.2em;
        padding: 0 0.3em;
      }
      b {
        font-weight: inherit;
        box-decoration-break: clone;
        -webkit-box-decoration-break: clone;
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
      @media (max-width: 599px) {
        th,
        td {
          padding-right: 0.7em;
        }
        th:last-child,
        td:last-child {
          width: auto;
        }
        td * + small {
          margin-left: 0;
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
    /** What the reader last looked at. @type {import("../changes.js").Memory} */
    this.memory = { seen: {}, noticed_ms: {} };
    this.lost = false;
    this.age_s = 0;
    /** @type {import("../connection.js").Refusal | null} */
    this.refusal = null;
  }

  /** @override */
  render() {
    const runs = this.runs ?? [];
    const lines = houseLines(runs, this.order);
    this.style.setProperty("--houses", String(Math.max(lines.length, 1) + (standingHouses(lines) ? 1 : 0)));
    return html`
      <main>${lines.length ? this.#houses(runs, lines) : this.#empty()}</main>
      ${this.lost ? html`<lost-screen .age_s=${this.age_s} .refusal=${this.refusal} .asOf=${lines.length ? this.#clock(true) : ""} .todo=${"Ask the booth."}></lost-screen>` : nothing}
    `;
  }

  #empty() {
    return html`
      <h1>Lobby</h1>
      ${
        this.runs?.length === 0
          ? html`<p class="empty" role="status">No show is running.</p>
              <p class="empty">
                The houses appear here by themselves once the booth has started Festoon with today's plan. Ask the booth.
              </p>`
          : html`<p class="empty" role="status">Waiting for the server</p>`
      }
    `;
  }

  /** @param {FollowedRun[]} runs @param {HouseLine[]} lines */
  #houses(runs, lines) {
    return html`
      ${this.#header(runs, lines)}
      ${runs.map(({ line, state }) =>
        state?.fault ? html`<p class="fault" role="alert">The times of ${line.title} are no longer kept up to date. Ask the booth.</p>` : nothing,
      )}
      ${this.#table(lines, runs.length > 1)}
    `;
  }

  /** @param {FollowedRun[]} runs @param {HouseLine[]} lines */
  #header(runs, lines) {
    const sites = [...new Set(runs.flatMap(({ line }) => line.site ?? []))].join(", ");
    const [only] = runs;
    const demo = runs.find(({ line }) => line.demo)?.state?.info;
    return html`<header>
      <div>
        <h1>${only && runs.length === 1 ? only.line.title : "The houses now"}</h1>
        ${sites ? html`<p class="site">${sites}</p>` : nothing}
        ${demo ? html`<p class="demo">Demo: a simulated run${demo.speed === 1 ? "" : ` at ${demo.speed} times speed`}</p>` : nothing}
      </div>
      <time>${this.#clock(false)}</time>
      <p class=${standingHouses(lines) ? "stand" : "unseen"} role="alert">${standingHouses(lines)}</p>
      <div class="said">
        <p>${showingInWords(lines)}</p>
        <p>${nextInWords(lines)}</p>
        ${heldRunsInWords(runs).map((held) => html`<p class="held">${held}</p>`)}
        ${this.#changed(lines)}
      </div>
    </header>`;
  }

  /** @param {HouseLine[]} lines */
  #changed(lines) {
    const count = lines.filter((line) => this.#change(line)).length;
    if (count === 0) return nothing;
    const seen = () => this.dispatchEvent(new CustomEvent("seen"));
    const said = `${countInWords(count)} changed since you looked`;
    return html`<button type="button" @click=${seen}>${said.charAt(0).toUpperCase() + said.slice(1)}: mark as seen</button>`;
  }

  /** @param {HouseLine} line */
  #change(line) {
    return changeInWords(line, this.memory.seen[line.key]);
  }

  /** The house's clock, of the first run that is known. @param {boolean} seconds */
  #clock(seconds) {
    const known = this.runs?.find(({ state }) => state !== null);
    return known?.state ? clockText(houseClock(known.state.info), known.now_s, seconds) : "";
  }

  /** @param {HouseLine[]} lines @param {boolean} films */
  #table(lines, films) {
    const [house, ...times] = COLUMNS.map((column) => this.#column(column));
    return html`<table>
      <caption class="unseen">
        Every house
      </caption>
      <thead>
        <tr>
          ${house}${films ? html`<th scope="col">Film</th>` : nothing}${times}
        </tr>
      </thead>
      <tbody>
        ${repeat(lines, ({ key }) => key, (line) => this.#line(line, films))}
      </tbody>
    </table>`;
  }

  /** @param {{name: string, order: Order}} column */
  #column({ name, order }) {
    const sort = () => this.dispatchEvent(new CustomEvent("order", { detail: order }));
    const sorted = this.order === order;
    return html`<th scope="col" aria-sort=${sorted ? "ascending" : "none"}><button type="button" @click=${sort}>${name}${sorted ? html`<span aria-hidden="true"> ▾</span>` : nothing}</button></th>`;
  }

  /** @param {HouseLine} line @param {boolean} films */
  #line(line, films) {
    const { house, film, state, now, next, plan } = line;
    const change = this.#change(line);
    return html`<tr class=${state}>
      <th scope="row">${house}</th>
      ${films ? html`<td class="film">${film}</td>` : nothing}
      <td class="now"><b>${now}</b></td>
      <td class="next">${next ? html`<b>${next}</b>` : nothing}${plan ? html`<small>(${plan})</small>` : nothing}${change ? html`<small class="change">${change}</small>` : nothing}</td>
    </tr>`;
  }
}

customElements.define("lobby-desk", LobbyDesk);
