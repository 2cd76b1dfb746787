// @ts-check
// Two or more runs of a chain on one chart and in one table.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { letterOf, passStrands, slackStrands } from "./comparison.js";
import { houseClock } from "../words/format.js";
import { dayText } from "./library.js";
import { linkName } from "../words/names.js";
import { drawnMarks } from "../picture/stringlines.js";
import { shared } from "../elements/shared.js";
import "./data-table.js";
import "./run-picker.js";
import "./strand-chart.js";

/** @typedef {import("../wire.js").Comparison} Comparison */
/** @typedef {import("../wire.js").RunInfo} RunInfo */

export class DebriefComparison extends LitElement {
  /** @override */
  static properties = {
    info: { attribute: false },
    runs: { attribute: false },
    comparison: { attribute: false },
    others: { attribute: false },
    chosen: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        padding: 0.8rem 0 2rem;
      }
      h2 {
        font-size: 1.25rem;
        line-height: 1.2;
        padding: 0.9rem 0 0.3rem;
      }
      p {
        color: var(--ink-2);
        max-width: 60rem;
      }
      .legend {
        display: flex;
        flex-wrap: wrap;
        gap: 0.3rem 1.6rem;
        padding: 0.4rem 0;
      }
      .what {
        display: grid;
        font-size: 0.9rem;
        color: var(--ink-2);
        max-width: 26rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {RunInfo | null} */
    this.info = null;
    /** @type {string[]} */
    this.runs = [];
    /** @type {Comparison | null} */
    this.comparison = null;
    /** @type {import("../wire.js").LibraryRun[] | null} null until they are known */
    this.others = null;
    /** What the chart shows: `mark ID` or `link ID`. */
    this.chosen = "mark head";
  }

  /** @override */
  render() {
    const { info, comparison } = this;
    if (!info) return nothing;
    return html`
      <run-picker .own=${info.stations.map(({ id }) => id)} .runs=${this.runs} .others=${this.others}></run-picker>
      ${comparison ? this.#comparison(comparison, info) : html`<p role="status">${this.runs.length > 1 ? "Working it out" : "Choose at least one other run."}</p>`}
    `;
  }

  /** @param {Comparison} comparison @param {RunInfo} info */
  #comparison(comparison, info) {
    return html`
      <ul class="legend" aria-label="Runs">
        ${comparison.runs.map(({ id, title, day }, place) => html`<li><strong>${letterOf(place)}</strong> ${title}, ${dayText(day)} (${id})</li>`)}
      </ul>
      ${this.#choice(info)} ${this.#chart(comparison, info)}
      ${comparison.tables.map(
        (table) => html`<h2>${table.title}</h2>
          <data-table .table=${table} .clock=${houseClock(info)}></data-table>`,
      )}
    `;
  }

  /** @param {RunInfo} info */
  #choice(info) {
    const choose = (/** @type {Event} */ { target }) => (this.chosen = /** @type {HTMLSelectElement} */ (target).value);
    return html`<label class="what"
      >Lay over each other
      <select @change=${choose}>
        ${marksOf(info).map(({ id, title }) => html`<option value="mark ${id}" ?selected=${this.chosen === `mark ${id}`}>${title}: seconds after plan</option>`)}
        ${info.links.map(({ id }) => html`<option value="link ${id}" ?selected=${this.chosen === `link ${id}`}>slack of ${linkName(info, id)}</option>`)}
      </select>
    </label>`;
  }

  /** @param {Comparison} comparison @param {RunInfo} info */
  #chart(comparison, info) {
    const [kind = "", id = ""] = this.chosen.split(/ (.*)/);
    if (kind === "link") {
      const reserve = info.links.find((link) => link.id === id)?.reserve_s ?? null;
      return html`<strand-chart .strands=${slackStrands(comparison, id)} .reserve=${reserve} .label=${"Slack by minutes after the first start"}></strand-chart>
        <p>Slack by minutes after the first start of each run; the broken lines are the reserve.</p>`;
    }
    const stations = info.stations.map((station) => station.id);
    return html`<strand-chart
        .strands=${passStrands(comparison, id, stations)}
        .columns=${info.stations.map(({ house }) => house)}
        .label=${"Seconds after plan, by house"}
      ></strand-chart>
      <p>Seconds after plan, house by house in film order, counted from the first start of each run. Below the line the mark came early.</p>`;
  }
}

/** The marks that are compared: the head by its own name. @param {RunInfo} info */
function marksOf(info) {
  const head = info.marks.filter(({ id }) => id === "head");
  return [...head, ...drawnMarks(info.marks).filter(({ id }) => id !== "head")];
}

customElements.define("debrief-comparison", DebriefComparison);
