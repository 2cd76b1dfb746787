// @ts-check
// A table as the server gives it, for people: times on the house's clock, lengths with their units.

import { LitElement, css, html } from "../../vendor/lit.js";
import { cellText, isFigure } from "./cells.js";
import { shared } from "../elements/shared.js";

export class DataTable extends LitElement {
  /** @override */
  static properties = { table: { attribute: false }, clock: { attribute: false }, empty: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      .sheet {
        max-height: 70vh;
        overflow: auto;
      }
      thead th {
        position: sticky;
        top: 0;
        background: var(--ground);
        vertical-align: bottom;
      }
      .figure {
        text-align: end;
      }
      td.wide {
        white-space: normal;
        min-width: 16rem;
      }
      p {
        color: var(--ink-2);
        padding: 0.4rem 0;
      }
      tbody tr:hover > * {
        background: var(--surface);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").TableDocument | null} */
    this.table = null;
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    /** What to say where there is no row. */
    this.empty = "Nothing to say.";
  }

  /** @override */
  render() {
    const { table } = this;
    if (!table || table.rows.length === 0) return html`<p>${this.empty}</p>`;
    return html`<div class="sheet" tabindex="0" role="region" aria-label=${table.title}>
      <table>
        <caption class="unseen">
          ${table.title}
        </caption>
        <thead>
          <tr>
            ${table.columns.map(({ title, unit }) => html`<th scope="col" class=${isFigure(unit) ? "figure" : ""}>${title}</th>`)}
          </tr>
        </thead>
        <tbody>
          ${table.rows.map((row) => html`<tr>${table.columns.map(({ unit }, place) => this.#cell(row[place] ?? null, unit, place))}</tr>`)}
        </tbody>
      </table>
    </div>`;
  }

  /** @param {import("../wire.js").TableDocument["rows"][number][number]} cell @param {import("../wire.js").TableColumn["unit"]} unit @param {number} place */
  #cell(cell, unit, place) {
    const text = cellText(cell, unit, this.clock);
    if (place === 0) return html`<th scope="row" class=${isFigure(unit) ? "figure" : ""}>${text}</th>`;
    return html`<td class=${isFigure(unit) ? "figure" : text.length > 40 ? "wide" : ""}>${text}</td>`;
  }
}

customElements.define("data-table", DataTable);
