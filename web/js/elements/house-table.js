// @ts-check
// The lobby's table: a line for each house, sorted as its reader likes; where reports may be made, each number begins one.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { changeInWords } from "../changes.js";
import { shared } from "./shared.js";

/**
 * @typedef {import("../lobby.js").HouseLine} HouseLine
 * @typedef {import("../lobby.js").Order} Order
 */

/** What each column is called, and what it is sorted by. @type {{name: string, order: Order}[]} */
const COLUMNS = [
  { name: "House", order: "house" },
  { name: "Now, by start", order: "starts" },
  { name: "Then, by let-out", order: "lets out" },
];

const PHONE_PX = 600; // a narrower screen is scrolled
const FIT_STEP = 0.04; // chosen
const LEAST_FIT = 0.5; // smaller print is none: chosen

export class HouseTable extends LitElement {
  /** @override */
  static properties = {
    lines: { attribute: false },
    films: { attribute: false },
    order: { attribute: false },
    memory: { attribute: false },
    reports: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        --above: 17rem;
      }
      :host([reports]) {
        --above: 18.5rem;
      }
      /* A television does not scroll: the print is as large as the number of lines lets it be. */
      table {
        width: 100%;
        margin-top: 0.5rem;
        font-size: clamp(1.15rem, min(3vw, (100vh - var(--above)) / var(--lines, 8) * 0.5) * var(--fit, 1), 3.4rem);
        line-height: 1.15;
      }
      th,
      td {
        padding: calc(0.38em * var(--fit, 1)) 1em calc(0.38em * var(--fit, 1)) 0;
        vertical-align: baseline;
        white-space: normal;
      }
      th:last-child,
      td:last-child {
        padding-right: 0;
        width: 48%;
      }
      caption {
        padding: 0;
      }
      .hint {
        font-size: 1rem;
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
      :host([reports]) tbody th {
        padding-block: 0.05em;
        padding-right: 0.8em;
      }
      tbody button {
        min-width: max(3rem, 1.9em);
        padding: 0 0.3em;
        font-weight: 700;
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
      td.film {
        font-size: max(1rem, 0.7em);
        color: var(--ink-2);
      }
      .before td,
      .soon td,
      .clear td,
      .clear th {
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
      .doors {
        white-space: nowrap;
      }
      @media (max-width: 1279px) {
        th:last-child,
        td:last-child {
          width: auto;
        }
      }
      /* A phone has what is so and what comes below one another. */
      @media (max-width: 599px) {
        table,
        thead,
        tbody,
        caption {
          display: block;
        }
        thead tr {
          display: flex;
          gap: 0.9rem;
          border-bottom: 1px solid var(--rule);
        }
        tbody tr {
          display: grid;
          grid-template-columns: minmax(2.4em, auto) minmax(0, 1fr);
          align-items: center;
          padding: 0.05em 0;
          border-bottom: 1px solid var(--rule);
        }
        tbody th,
        :host([reports]) tbody th {
          grid-row: 1 / span 3;
          padding: 0 0.7em 0 0;
        }
        th,
        td,
        th:last-child,
        td:last-child {
          width: auto;
          padding: 0;
          border: 0;
        }
        td {
          grid-column: 2;
        }
        thead button {
          padding: 0;
        }
        td * + small {
          margin-left: 0;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {HouseLine[]} */
    this.lines = [];
    /** Whether there are several, so that each line has its own. */
    this.films = false;
    /** @type {Order} */
    this.order = "starts";
    /** What the reader last looked at. @type {import("../changes.js").Memory} */
    this.memory = { seen: {}, noticed_ms: {} };
    /** Whether this device may report from a house. */
    this.reports = false;
    /** How large the print is, as a share of what would fit if nothing wrapped, and for what that was found. */
    this.fit = 1;
    this.fitted = "";
  }

  /** @override */
  updated() {
    this.#fit();
  }

  /** What wraps makes a line higher than was reckoned with: then the print is a little smaller, until all of it is seen. */
  #fit() {
    const page = document.documentElement;
    if (page.clientWidth < PHONE_PX) return;
    const situation = () => `${page.clientWidth} ${page.clientHeight} ${page.scrollHeight} ${this.renderRoot.textContent}`;
    if (situation() === this.fitted) return;
    const scrolls = () => page.scrollHeight > page.clientHeight;
    const print = (/** @type {number} */ fit) => this.style.setProperty("--fit", String((this.fit = fit)));
    while (this.fit < 1 && !scrolls()) print(Math.min(this.fit + FIT_STEP, 1));
    while (this.fit > LEAST_FIT && scrolls()) print(this.fit - FIT_STEP);
    this.fitted = situation();
  }

  /** Roles are said, because a phone's layout takes them from the elements. @override */
  render() {
    const [house, ...times] = COLUMNS.map((column) => this.#column(column));
    return html`<table role="table">
      <caption id="hint"><span class="unseen">Every house.</span>${this.reports ? html` <span class="hint">To report from a house, touch its number.</span>` : nothing}</caption>
      <thead role="rowgroup">
        <tr role="row">
          ${house}${this.films ? html`<th role="columnheader" scope="col">Film</th>` : nothing}${times}
        </tr>
      </thead>
      <tbody role="rowgroup">
        ${repeat(this.lines, ({ key }) => key, (line) => this.#line(line))}
      </tbody>
    </table>`;
  }

  /** @param {{name: string, order: Order}} column */
  #column({ name, order }) {
    const sort = () => this.dispatchEvent(new CustomEvent("order", { detail: order }));
    const sorted = this.order === order;
    return html`<th role="columnheader" scope="col" aria-sort=${sorted ? "ascending" : "none"}><button type="button" @click=${sort}>${name}${sorted ? html`<span aria-hidden="true"> ▾</span>` : nothing}</button></th>`;
  }

  /** @param {HouseLine} line */
  #line(line) {
    const { key, house, film, state, now, doors, next, plan } = line;
    const change = changeInWords(line, this.memory.seen[key]);
    const report = () => this.dispatchEvent(new CustomEvent("report", { detail: key }));
    return html`<tr role="row" class=${state}>
      <th role="rowheader" scope="row">${this.reports ? html`<button type="button" aria-describedby="hint" @click=${report}>${house}</button>` : house}</th>
      ${this.films ? html`<td role="cell" class="film">${film}</td>` : nothing}
      <td role="cell" class="now"><b>${now}</b></td>
      <td role="cell" class="next">${doors ? html`<span class="doors">${doors}${next ? "," : ""}</span> ` : nothing}${next ? html`<b>${next}</b>` : nothing}${plan ? html` <small>(${plan})</small>` : nothing}${change ? html` <small class="change">${change}</small>` : nothing}</td>
    </tr>`;
  }
}

customElements.define("house-table", HouseTable);
