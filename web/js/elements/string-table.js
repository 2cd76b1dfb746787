// @ts-check
// The stringline chart as a table: a row a station, a column a mark.

import { LitElement, html, nothing } from "../../vendor/lit.js";
import { passOf } from "../estimate.js";
import { clockText, houseClock } from "../format.js";
import { drawnMarks } from "../stringlines.js";
import { shared } from "./shared.js";

/** @typedef {import("../messages.js").MarkInfo} MarkInfo */

export class StringTable extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    schedule: { attribute: false },
    now_s: { attribute: false },
    open: { state: true },
  };

  /** @override */
  static styles = [shared];

  constructor() {
    super();
    /** @type {import("../store.js").RunState | null} */
    this.state = null;
    /** @type {import("../messages.js").Schedule | null} */
    this.schedule = null;
    this.now_s = 0;
    this.open = false;
  }

  /** @override */
  render() {
    const opened = (/** @type {Event} */ { target }) => (this.open = /** @type {HTMLDetailsElement} */ (target).open);
    return html`<details @toggle=${opened}>
      <summary>The chart as a table</summary>
      ${
        this.open && this.state
          ? html`<div class="sheet" tabindex="0" role="region" aria-label="The chart as a table">${this.#table(this.state)}</div>`
          : nothing
      }
    </details>`;
  }

  /** @param {import("../store.js").RunState} state */
  #table(state) {
    const marks = drawnMarks(state.info.marks);
    return html`<table>
      <caption>
        Passes by the house's clock: observed, or expected with one standard deviation, or as planned
      </caption>
      <thead>
        <tr>
          <th scope="col">House</th>
          ${marks.map(({ title }) => html`<th scope="col">${title}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${state.stations.map(
          (_, place) => html`<tr>
            <th scope="row">${state.info.stations[place]?.house}</th>
            ${marks.map((mark) => html`<td>${this.#pass(state, place, mark)}</td>`)}
          </tr>`,
        )}
      </tbody>
    </table>`;
  }

  /** @param {import("../store.js").RunState} state @param {number} place @param {MarkInfo} mark */
  #pass(state, place, mark) {
    const clock = houseClock(state.info);
    const station = state.stations[place];
    const pass = station && passOf(station, mark);
    if (pass) return pass.seen ? `${clockText(clock, pass.t_s, true)} observed` : `${clockText(clock, pass.t_s, true)} ± ${pass.sd_s.toFixed(1)} s`;
    const planned_s = this.schedule?.stations[place]?.passes[mark.id];
    return planned_s === undefined ? "–" : `${clockText(clock, planned_s, true)} planned`;
  }
}

customElements.define("string-table", StringTable);
