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
const [LEAST_PX, MOST_PX] = [13, 120]; // how large the print is: chosen
const SCROLLED_PX = 17; // how large where the page has to be scrolled even so: chosen
const TRIES = 7; // halvings of that: to a pixel
const BETTER = 1.2; // by so much larger print has to be for houses to stand in more columns: chosen
const LONG = 8; // letters of a house's name that stand in one line: chosen

/** @typedef {{columns: number, under: boolean}} Way how the houses stand: in how many columns, and whether what is so and what comes stand under one another */

/** @type {Way} */
const PLAIN = { columns: 1, under: false };

/** @type {Way[]} */
const WAYS = [
  PLAIN,
  { columns: 2, under: false },
  { columns: 2, under: true },
  { columns: 3, under: true },
];

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
      }
      /* A television does not scroll: the print is as large as lets all of it be seen. */
      table {
        width: 100%;
        margin-top: 0.3rem;
        font-size: var(--print, 1.15rem);
        line-height: 1.15;
      }
      th,
      td {
        padding: 0.28em 1em 0.28em 0;
        vertical-align: baseline;
        white-space: normal;
      }
      th:last-child,
      td:last-child {
        padding-right: 0;
      }
      td.now {
        white-space: nowrap;
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
      .long tbody th {
        width: 36%;
        white-space: normal;
        overflow-wrap: anywhere;
        font-size: max(12px, 0.85em);
        line-height: 1.1;
      }
      tbody button {
        min-width: max(48px, 1.9em);
        min-height: 48px;
        padding: 0 0.3em;
        font-weight: 700;
        line-height: 1.1;
        text-align: start;
      }
      th:not(.long *) button {
        text-align: center;
      }
      /* In several columns each house is a line of its own, or three short ones. */
      .columns,
      .columns caption,
      .columns thead,
      .columns tbody {
        display: block;
      }
      .under td.now {
        white-space: normal;
      }
      .columns thead tr {
        display: flex;
        gap: 1.5rem;
      }
      .columns thead th {
        width: auto;
        border: 0;
      }
      .columns tbody {
        columns: var(--columns);
        column-gap: 2em;
      }
      .columns tbody tr {
        display: grid;
        grid-template-columns: minmax(2.6em, auto) minmax(0, 1fr) minmax(0, 1.3fr);
        gap: 0 0.8em;
        align-items: baseline;
        break-inside: avoid;
        border-bottom: 1px solid var(--rule);
        padding: 0.2em 0;
      }
      .columns.long tbody tr {
        grid-template-columns: minmax(0, 1.1fr) minmax(0, 1fr) minmax(0, 1.3fr);
      }
      .columns.under tbody tr {
        grid-template-columns: minmax(2.6em, auto) minmax(0, 1fr);
        align-items: center;
      }
      .columns.under.long tbody tr {
        grid-template-columns: minmax(0, 1fr) minmax(0, 1.2fr);
      }
      .columns tbody th,
      .columns tbody td,
      :host([reports]) .columns tbody th {
        width: auto;
        border: 0;
        padding: 0;
      }
      .under tbody th {
        grid-row: 1 / span 3;
      }
      .under tbody td {
        grid-column: 2;
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
        table.long tbody th {
          grid-row: auto;
          grid-column: 1 / -1;
          width: auto;
          font-size: 1em;
        }
        table.long tbody tr {
          grid-template-columns: 0 minmax(0, 1fr);
          padding: 0.4em 0;
        }
        td {
          grid-column: 2;
        }
        td.now {
          white-space: normal;
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
    /** For what the way in which the houses stand was found. */
    this.fitted = "";
    this.refit = () => this.#fit();
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    addEventListener("resize", this.refit);
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    removeEventListener("resize", this.refit);
  }

  /** @override */
  updated() {
    this.#fit();
  }

  /** Finds in which of the ways the print is largest while all of it is seen; where all would be too small the page is scrolled. */
  #fit() {
    const page = document.documentElement;
    const table = this.renderRoot.querySelector("table");
    if (!table || page.clientWidth < PHONE_PX) return this.#stand(null, 0);
    const words = this.renderRoot.textContent?.replace(/\d/g, "0");
    const situation = () => `${page.clientWidth} ${page.clientHeight} ${page.scrollHeight} ${words}`;
    if (situation() === this.fitted) return;
    const isWhole = (/** @type {Element} */ cell) => cell.scrollWidth <= cell.clientWidth + 1;
    const isSeen = () => page.scrollHeight <= page.clientHeight && isWhole(page) && isWhole(table) && [...table.querySelectorAll("td.now")].every(isWhole);
    let [best, largest] = [PLAIN, 0];
    for (const way of WAYS.filter(({ columns, under }) => columns <= this.lines.length && (!this.films || under || columns === 1))) {
      const size = this.#largest(way, isSeen);
      if (size > largest * (best === way ? 1 : BETTER)) [best, largest] = [way, size];
    }
    this.#stand(largest ? best : PLAIN, largest || SCROLLED_PX);
    this.fitted = situation();
  }

  /** The largest print, in pixels, in which all is seen one way; 0 where none is. @param {Way} way @param {() => boolean} isSeen */
  #largest(way, isSeen) {
    let [fits, tooLarge] = [0, MOST_PX];
    for (let tries = 0; tries < TRIES; tries += 1) {
      const size = fits === 0 && tries === TRIES - 1 ? LEAST_PX : (Math.max(fits, LEAST_PX) + tooLarge) / 2;
      this.#stand(way, size);
      if (isSeen()) fits = size;
      else tooLarge = size;
    }
    return fits;
  }

  /** @param {Way | null} way null where the page's own style decides, on a phone @param {number} size_px */
  #stand(way, size_px) {
    const table = this.renderRoot.querySelector("table");
    table?.classList.toggle("columns", way !== null && way.columns > 1);
    table?.classList.toggle("under", way?.under ?? false);
    this.style.setProperty("--columns", String(way?.columns ?? 1));
    if (way) this.style.setProperty("--print", `${size_px}px`);
    else this.style.removeProperty("--print");
  }

  /** Roles are said, because a phone's layout takes them from the elements. @override */
  render() {
    const isLong = this.lines.some((line) => line.house.length > LONG);
    const [house, ...times] = COLUMNS.map((column) => this.#column(column));
    return html`<table role="table" class=${isLong ? "long" : ""}>
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
