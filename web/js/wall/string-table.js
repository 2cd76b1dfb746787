// @ts-check
// The stringline chart as a table: a row a station, a column a mark.

import { LitElement, html, nothing } from "../../vendor/lit.js";
import { passOf } from "../picture/estimate.js";
import { houseClock, timeText } from "../words/format.js";
import { drawnMarks } from "../picture/stringlines.js";
import "../elements/table-sheet.js";

/** @typedef {import("../wire.js").MarkInfo} MarkInfo */

export class StringTable extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    schedule: { attribute: false },
    now_s: { attribute: false },
  };

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** @type {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} */
    this.schedule = null;
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { state } = this;
    return state ? html`<table-sheet .name=${"The chart as a table"} .table=${() => this.#table(state)}></table-sheet>` : nothing;
  }

  /** @param {import("../live/store.js").RunState} state */
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

  /** @param {import("../live/store.js").RunState} state @param {number} place @param {MarkInfo} mark */
  #pass(state, place, mark) {
    const at = (/** @type {number} */ t_s) => timeText(houseClock(state.info), t_s, this.now_s, true);
    const station = state.stations[place];
    const pass = station && passOf(station, mark);
    if (pass) return pass.seen ? `${at(pass.t_s)} observed` : `${at(pass.t_s)} ± ${pass.sd_s.toFixed(1)} s`;
    const planned_s = this.schedule?.stations[place]?.passes[mark.id];
    return planned_s === undefined ? "–" : `${at(planned_s)} planned`;
  }
}

customElements.define("string-table", StringTable);
