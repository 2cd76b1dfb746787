// @ts-check
// How far off each house was: one row a house, early to the left of a line and late to the right, against a window where there is one.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { scaleLinear } from "../../vendor/d3.js";
import { signed } from "./cells.js";
import { Measured } from "../elements/measured.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {object} OffsetRow
 * @property {string} name
 * @property {number | null} at_s how far off, early below zero; null where it was not seen
 * @property {[number, number] | null} window in which it was to be
 * @property {string} said in words
 */

const ROW = 26;
const LEFT = 86;
const RIGHT = 150;

export class OffsetChart extends LitElement {
  /** @override */
  static properties = { rows: { attribute: false }, label: { attribute: false }, zero: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        max-width: 60rem;
      }
      svg {
        display: block;
        width: 100%;
        fill: var(--ink-2);
        font-size: 14px;
      }
      path {
        fill: none;
        stroke: var(--rule);
      }
      .zero {
        stroke: var(--ink-3);
        stroke-width: 2;
      }
      .window {
        fill: var(--surface);
        stroke: var(--ink-3);
      }
      .at {
        fill: var(--ink);
      }
      .way {
        stroke: var(--ink);
        stroke-width: 2;
      }
      .name,
      .said {
        fill: var(--ink);
      }
      .name {
        font-weight: 600;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {OffsetRow[]} */
    this.rows = [];
    this.label = "";
    /** What the line at zero is. */
    this.zero = "as planned";
    this.size = new Measured(this);
  }

  /** @override */
  render() {
    if (this.size.width === 0 || this.rows.length === 0) return nothing;
    const ends = this.rows.flatMap(({ at_s, window }) => [at_s ?? 0, ...(window ?? [])]);
    const x = scaleLinear([Math.min(...ends, 0), Math.max(...ends, 0)], [LEFT, Math.max(this.size.width - RIGHT, LEFT + 40)]).nice(6);
    const high = this.rows.length * ROW + 44;
    return html`<svg viewBox="0 0 ${this.size.width} ${high}" height=${high} role="img" aria-label="${this.label}. The table says the same.">
      ${x.ticks(6).map((at) => svg`<path d="M${x(at)} 20V${high - 20}" /><text x=${x(at)} y=${high - 4} text-anchor="middle">${signed(at, at % 1 ? 1 : 0)} s</text>`)}
      <path class="zero" d="M${x(0)} 16V${high - 20}" />
      <text x=${x(0)} y="12" text-anchor="middle">${this.zero}</text>
      ${this.rows.map((row, place) => this.#row(row, 20 + (place + 0.5) * ROW, x))}
    </svg>`;
  }

  /** @param {OffsetRow} row @param {number} y @param {(at: number) => number} x */
  #row({ name, at_s, window, said }, y, x) {
    return svg`
      <text class="name" x=${LEFT - 10} y=${y + 5} text-anchor="end">${name}</text>
      ${window ? svg`<rect class="window" x=${x(window[0])} y=${y - 8} width=${Math.max(x(window[1]) - x(window[0]), 1)} height="16" />` : nothing}
      ${at_s === null ? nothing : svg`<path class="way" d="M${x(0)} ${y}H${x(at_s)}" /><rect class="at" x=${x(at_s) - 5} y=${y - 5} width="10" height="10" />`}
      <text class="said" x=${this.size.width - RIGHT + 14} y=${y + 5}>${said}</text>
    `;
  }
}

customElements.define("offset-chart", OffsetChart);
