// @ts-check
// The lobby's table: a line for each house, sorted as its reader likes; where reports may be made, each number begins one.

import { LitElement, html, nothing, repeat } from "../../vendor/lit.js";
import { changeInWords } from "./changes.js";
import { inOneLine } from "../picture/fit.js";
import { houseStyle } from "./house-style.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("./lobby.js").HouseLine} HouseLine
 * @typedef {import("./lobby.js").Order} Order
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
const BETTER = 1.2; // by so much larger print has to be for houses to stand in more columns, or with their names cut: chosen
const LONG = 8; // letters of a house's name that stand in one line: chosen
const MANY = 12; // houses that may stand without room between them: chosen
const CUT = 12; // letters of a name that is cut because all of it has no room: chosen

/** @typedef {{columns: number, under: boolean, close?: boolean}} Way how the houses stand: in how many columns, whether what is so and what comes stand under one another, and whether without room between them */

/** @type {Way} */
const PLAIN = { columns: 1, under: false };

/** @type {Way[]} */
const WAYS = [PLAIN, { columns: 2, under: false }, { columns: 2, under: true }, { columns: 3, under: true }, { columns: 3, under: true, close: true }];

/** @param {string} house */
function cutName(house) {
  return inOneLine(house, CUT, ({ length }) => length);
}

/** Whether names may be cut: some are long, and none is another's then. @param {HouseLine[]} lines */
function mayBeCut(lines) {
  const names = new Set(lines.map(({ house }) => house));
  return [...names].some((name) => name.length > CUT) && new Set([...names].map(cutName)).size === names.size;
}

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
  static styles = [shared, houseStyle];

  constructor() {
    super();
    /** @type {HouseLine[]} */
    this.lines = [];
    /** Whether there are several, so that each line has its own. */
    this.films = false;
    /** @type {Order} */
    this.order = "starts";
    /** What the reader last looked at. @type {import("./changes.js").Memory} */
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
    if (!table) return;
    if (page.clientWidth < PHONE_PX) {
      this.#cut(false);
      return this.#stand(null, 0);
    }
    const words = this.renderRoot.textContent?.replace(/\d/g, "0");
    const situation = () => `${page.clientWidth} ${page.clientHeight} ${page.scrollHeight} ${words}`;
    if (situation() === this.fitted) return;
    const isWhole = (/** @type {Element} */ cell) => cell.scrollWidth <= cell.clientWidth + 1;
    const isSeen = () =>
      page.scrollHeight <= page.clientHeight &&
      isWhole(page) &&
      isWhole(table) &&
      table.scrollWidth <= this.clientWidth + 1 &&
      [...table.querySelectorAll("td.now")].every(isWhole);
    const cut = mayBeCut(this.lines) ? this.#best(isSeen, true) : null;
    const whole = this.#best(isSeen, false);
    const isCut = (cut?.size ?? 0) > (whole?.size ?? 0) * BETTER;
    const best = isCut ? cut : whole;
    this.#cut(isCut);
    this.#stand(best?.way ?? PLAIN, best?.size ?? SCROLLED_PX);
    this.fitted = situation();
  }

  /** The way in which all is seen in the largest print, and that; null where it is in none. @param {() => boolean} isSeen @param {boolean} areCut whether long names are @returns {{way: Way, size: number} | null} */
  #best(isSeen, areCut) {
    this.#cut(areCut);
    let [best, largest] = [PLAIN, 0];
    const mayBe = (/** @type {Way} */ { columns, under, close }) =>
      columns <= this.lines.length && (!this.films || under || columns === 1) && (!close || this.lines.length > MANY);
    for (const way of WAYS.filter(mayBe)) {
      const size = this.#largest(way, isSeen);
      if (size > largest * (best === way ? 1 : BETTER)) [best, largest] = [way, size];
    }
    return largest ? { way: best, size: largest } : null;
  }

  /** Shows long names cut or whole; read aloud they are whole. @param {boolean} areCut */
  #cut(areCut) {
    const table = this.renderRoot.querySelector("table");
    table?.classList.toggle("long", !areCut && this.lines.some(({ house }) => house.length > LONG));
    for (const name of this.renderRoot.querySelectorAll(".whole")) name.classList.toggle("unseen", areCut);
    for (const name of this.renderRoot.querySelectorAll(".cut")) name.toggleAttribute("hidden", !areCut);
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
    table?.classList.toggle("close", way?.close ?? false);
    this.style.setProperty("--columns", String(way?.columns ?? 1));
    if (way) this.style.setProperty("--print", `${size_px}px`);
    else this.style.removeProperty("--print");
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
        ${repeat(
          this.lines,
          ({ key }) => key,
          (line) => this.#line(line),
        )}
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
    const { key, house, film, ofRun, state, now, doors, next, plan } = line;
    const change = changeInWords(line, this.memory.seen[key]);
    const report = () => this.dispatchEvent(new CustomEvent("report", { detail: key }));
    const isLong = house.length > CUT;
    const name = isLong ? html`<span class="whole">${house}</span><span class="cut" aria-hidden="true" hidden>${cutName(house)}</span>` : house;
    return html`<tr role="row" class=${state}>
      <th role="rowheader" scope="row" title=${isLong ? house : nothing}>${this.reports ? html`<button type="button" aria-describedby="hint" @click=${report}>${name}</button>` : name}</th>
      ${this.films ? html`<td role="cell" class="film">${ofRun || film}</td>` : nothing}
      <td role="cell" class="now"><b>${now}</b></td>
      <td role="cell" class="next">${doors ? html`<span class="doors">${doors}${next ? "," : ""}</span> ` : nothing}${next ? html`<b>${next}</b>` : nothing}${plan ? html` <small>(${plan})</small>` : nothing}${change ? html` <small class="change">${change}</small>` : nothing}</td>
    </tr>`;
  }
}

customElements.define("house-table", HouseTable);
