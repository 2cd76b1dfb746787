// @ts-check
// Several runs as lines on one chart, told apart by a letter, a broken or whole line, and a hue.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { line, scaleLinear } from "../../vendor/d3.js";
import { signed } from "./cells.js";
import { extentOf } from "./comparison.js";
import { roundMoments } from "../picture/stringlines.js";
import { tickStep } from "../picture/timewindow.js";
import { chartBox } from "../elements/chart-ink.js";
import { Measured } from "../elements/measured.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./comparison.js").Strand} Strand */

const EDGE = { left: 58, right: 34, top: 12, bottom: 34 };

export class StrandChart extends LitElement {
  /** @override */
  static properties = {
    strands: { attribute: false },
    columns: { attribute: false },
    reserve: { attribute: false },
    label: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    chartBox,
    css`
      :host {
        display: block;
      }
      figure {
        margin: 0;
        height: clamp(16rem, 42vh, 30rem);
        position: relative;
      }
      svg {
        font-size: 0.85rem;
      }
      path {
        stroke: var(--rule);
      }
      .zero {
        stroke: var(--ink-3);
        stroke-width: 1.5;
      }
      .reserve {
        stroke: var(--watch);
        stroke-width: 2;
        stroke-dasharray: 8 4;
      }
      .strand {
        stroke-width: 2.5;
        stroke-linejoin: round;
      }
      .letter {
        font-weight: 700;
        fill: var(--ink);
        paint-order: stroke;
        stroke: var(--ground);
        stroke-width: 4px;
      }
      .hue0 {
        stroke: var(--ink);
      }
      .hue1 {
        stroke: var(--film-c);
      }
      .hue2 {
        stroke: var(--film-b);
      }
      .hue3 {
        stroke: var(--film-a);
      }
      .broken {
        stroke-dasharray: 9 5;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Strand[]} */
    this.strands = [];
    /** @type {string[] | null} names along the chart where its places are stations; null where they are times */
    this.columns = null;
    /** @type {number | null} */
    this.reserve = null;
    this.label = "";
    this.size = new Measured(this, "figure");
  }

  /** @override */
  render() {
    return html`<figure>${this.size.height > 0 && this.strands.length > 0 ? this.#chart() : nothing}</figure>`;
  }

  #chart() {
    const { width, height } = this.size;
    const ends = /** @type {[number, number]} */ (this.columns ? [0, Math.max(this.columns.length - 1, 1)] : extentOf(this.strands, "x"));
    const [least, most] = extentOf(this.strands, "y");
    const x = scaleLinear(ends, [EDGE.left, width - EDGE.right]);
    const y = scaleLinear([Math.max(most, this.reserve ?? 0, 0), Math.min(least, -(this.reserve ?? 0), 0)], [EDGE.top, height - EDGE.bottom]);
    const path = line(
      (/** @type {{x: number, y: number}} */ point) => x(point.x),
      (point) => y(point.y),
    ).defined((point) => !Number.isNaN(point.y));
    return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="${this.label}. The tables say the same.">
      ${y.ticks(6).map((at) => svg`<path d="M${EDGE.left} ${y(at)}H${width - EDGE.right}" /><text x=${EDGE.left - 8} y=${y(at) + 5} text-anchor="end">${signed(at, at % 1 ? 1 : 0)} s</text>`)}
      <path class="zero" d="M${EDGE.left} ${y(0)}H${width - EDGE.right}" />
      ${this.#along(x, height)}
      ${this.reserve === null ? nothing : [this.reserve, -this.reserve].map((at) => svg`<path class="reserve" d="M${EDGE.left} ${y(at)}H${width - EDGE.right}" />`)}
      ${this.strands.map(({ points }, place) => svg`<path class="strand hue${place % 4} ${place >= 4 ? "broken" : ""}" d=${path(points) ?? ""} />`)}
      ${this.#letters(x, y)}
    </svg>`;
  }

  /** What stands under the chart: houses, or minutes. @param {(at: number) => number} x @param {number} height */
  #along(x, height) {
    if (this.columns) return this.columns.map((name, at) => svg`<text x=${x(at)} y=${height - 12} text-anchor="middle">${name}</text>`);
    const [from_s, to_s] = extentOf(this.strands, "x");
    const every_s = tickStep(to_s - from_s, 8);
    return roundMoments([from_s, to_s], 0, every_s).map((at) => svg`<text x=${x(at)} y=${height - 12} text-anchor="middle">${signed(at / 60, 0)} min</text>`);
  }

  /** The letter of each run at the end of its line; those at one place stand under each other. @param {(at: number) => number} x @param {(at: number) => number} y */
  #letters(x, y) {
    /** @type {number[]} */
    const taken = [];
    return this.strands.map(({ label, points }) => {
      const last = [...points].reverse().find((point) => !Number.isNaN(point.y));
      if (!last) return nothing;
      let at = y(last.y) + 5;
      while (taken.some((other) => Math.abs(other - at) < 16)) at += 16;
      taken.push(at);
      return svg`<text class="letter" x=${x(last.x) + 6} y=${at}>${label}</text>`;
    });
  }
}

customElements.define("strand-chart", StrandChart);
