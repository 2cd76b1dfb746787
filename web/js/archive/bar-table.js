// @ts-check
// Figures as bars in a table: the chart is its table, row by row.

import { LitElement, css, html, svg } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./months.js").Bar} Bar */

export class BarTable extends LitElement {
  /** @override */
  static properties = { title: { attribute: false }, unit: { attribute: false }, bars: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      table {
        width: 100%;
        font-size: 1rem;
      }
      caption {
        font-size: 1.3rem;
        font-weight: 700;
        color: var(--ink);
      }
      th[scope="row"] {
        width: 11rem;
        white-space: normal;
        overflow-wrap: anywhere;
      }
      td.told {
        width: 11rem;
        font-variant-numeric: tabular-nums;
      }
      svg {
        display: block;
        width: 100%;
        height: 1.2rem;
      }
      rect {
        fill: var(--film-a);
      }
      @media (max-width: 767px) {
        .bar {
          display: none;
        }
      }
    `,
  ];

  constructor() {
    super();
    this.title = "";
    this.unit = "";
    /** @type {Bar[]} */
    this.bars = [];
  }

  /** @override */
  render() {
    const most = Math.max(...this.bars.map(({ value }) => value), 0);
    return html`<table>
      <caption>
        ${this.title}
      </caption>
      <thead>
        <tr>
          <th scope="col">Which</th>
          <th scope="col">${this.unit}</th>
          <td class="bar"></td>
        </tr>
      </thead>
      <tbody>
        ${this.bars.map(
          ({ name, value, told }) => html`<tr>
            <th scope="row">${name}</th>
            <td class="told">${told}</td>
            <td class="bar"><svg viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true">${svg`<rect width=${most > 0 ? (100 * value) / most : 0} height="4"></rect>`}</svg></td>
          </tr>`,
        )}
      </tbody>
    </table>`;
  }
}

customElements.define("bar-table", BarTable);
