// @ts-check
// The slack of one link through the run: its line, its 90 % band, and the reserve at which film is taut or falls.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { area, line, scaleLinear } from "../../vendor/d3.js";
import { clockText } from "../words/format.js";
import { slackPieces } from "./passlines.js";
import { roundMoments } from "../picture/stringlines.js";
import { tickStep } from "../picture/timewindow.js";
import { chartBox } from "../elements/chart-ink.js";
import { Measured } from "../elements/measured.js";
import { shared } from "../elements/shared.js";

const BAND_SD = 1.645; // 90 %, as the forecasts
const EDGE = { left: 40, right: 8, top: 6, bottom: 20 };
const ROOM = 1.15; // of the reserve, drawn either way

export class LinkSlack extends LitElement {
  /** @override */
  static properties = {
    name: { attribute: false },
    t_s: { attribute: false },
    link: { attribute: false },
    clock: { attribute: false },
    at_s: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    chartBox,
    css`
      :host {
        display: block;
      }
      h3 {
        font-size: 1rem;
        line-height: 1.2;
      }
      figure {
        margin: 0;
        height: 8.5rem;
        position: relative;
        cursor: crosshair;
      }
      svg {
        font-size: 0.75rem;
      }
      .ground {
        fill: var(--surface);
      }
      .slack {
        stroke: var(--ink);
        stroke-width: 2;
      }
      .band {
        fill: var(--ink);
        fill-opacity: 0.16;
      }
      .rest {
        stroke: var(--rule);
      }
      .reserve {
        stroke: var(--watch);
        stroke-width: 2;
        stroke-dasharray: 8 4;
      }
      .now {
        stroke: var(--ink);
      }
      .named {
        paint-order: stroke;
        stroke: var(--surface);
        stroke-width: 4px;
        fill: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    this.name = "";
    /** @type {number[]} */
    this.t_s = [];
    /** @type {import("../wire.js").SeriesLink | null} */
    this.link = null;
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.at_s = 0;
    this.size = new Measured(this, "figure");
  }

  /** @override */
  render() {
    const { link } = this;
    return html`
      <h3>${this.name}</h3>
      <figure @click=${this.#choose}>${link && this.size.height > 0 ? this.#chart(link) : nothing}</figure>
    `;
  }

  #x() {
    const [from_s, to_s] = [this.t_s[0] ?? 0, this.t_s[this.t_s.length - 1] ?? 1];
    return scaleLinear([from_s, to_s], [EDGE.left, this.size.width - EDGE.right]);
  }

  /** @param {import("../wire.js").SeriesLink} link */
  #chart(link) {
    const { width, height } = this.size;
    const most = Math.max(link.reserve_s, ...link.slack_s.map((slack_s) => Math.abs(slack_s ?? 0)), 0.1) * ROOM;
    const x = this.#x();
    const y = scaleLinear([most, -most], [EDGE.top, height - EDGE.bottom]);
    const path = line(
      (/** @type {{t_s: number, slack_s: number, sd_s: number}} */ point) => x(point.t_s),
      (point) => y(point.slack_s),
    );
    const band = area((/** @type {{t_s: number, slack_s: number, sd_s: number}} */ point) => x(point.t_s), 0)
      .y0((point) => clamped(y, point.slack_s - BAND_SD * point.sd_s, most))
      .y1((point) => clamped(y, point.slack_s + BAND_SD * point.sd_s, most));
    const pieces = slackPieces(this.t_s, link);
    const [left, right] = [EDGE.left, width - EDGE.right];
    return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="Slack of ${this.name} through the run. The table says the same.">
      <rect class="ground" x=${left} y=${EDGE.top} width=${right - left} height=${height - EDGE.top - EDGE.bottom} />
      ${this.#times(x, left, right, height)}
      <path class="rest" d="M${left} ${y(0)}H${right}" />
      ${pieces.map((piece) => svg`<path class="band" d=${band(piece) ?? ""} /><path class="slack" d=${path(piece) ?? ""} />`)}
      ${[link.reserve_s, -link.reserve_s].map(
        (reserve_s) => svg`<path class="reserve" d="M${left} ${y(reserve_s)}H${right}" />
          <text x=${left - 5} y=${y(reserve_s) + 4} text-anchor="end">${reserve_s > 0 ? "+" : "−"}${Math.abs(reserve_s)} s</text>`,
      )}
      <text class="named" x=${right - 4} y=${y(link.reserve_s) + 14} text-anchor="end">on the floor</text>
      <text class="named" x=${right - 4} y=${y(-link.reserve_s) - 5} text-anchor="end">taut</text>
      <text x=${left - 5} y=${y(0) + 4} text-anchor="end">0</text>
      <path class="now" d="M${x(this.at_s)} ${EDGE.top}V${height - EDGE.bottom}" />
    </svg>`;
  }

  /** @param {(t_s: number) => number} x @param {number} left @param {number} right @param {number} height */
  #times(x, left, right, height) {
    const [from_s, to_s] = [this.t_s[0] ?? 0, this.t_s[this.t_s.length - 1] ?? 1];
    const every_s = tickStep(to_s - from_s, (right - left) / 80);
    return roundMoments([from_s, to_s], this.clock.zero_ms, every_s).map(
      (t_s) => svg`<text x=${x(t_s)} y=${height - 4} text-anchor="middle">${clockText(this.clock, t_s)}</text>`,
    );
  }

  /** @param {MouseEvent} event */
  #choose({ offsetX }) {
    this.dispatchEvent(new CustomEvent("seek", { detail: this.#x().invert(offsetX), bubbles: true, composed: true }));
  }
}

/** A band that is wider than the chart ends at its edge. @param {(slack_s: number) => number} y @param {number} slack_s @param {number} most */
function clamped(y, slack_s, most) {
  return y(Math.min(Math.max(slack_s, -most), most));
}

customElements.define("link-slack", LinkSlack);
