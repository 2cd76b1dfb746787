// @ts-check
// The stringline chart of a plan: time across, houses down at their film distance, a line for each mark, and when lamps are struck.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { line, scaleLinear } from "../../vendor/d3.js";
import { heights, planClock, plannedLines, spanOf, tickEvery, timeText } from "./times.js";
import { roundMoments } from "../picture/stringlines.js";
import { chartInk } from "../elements/chart-ink.js";
import { Measured } from "../elements/measured.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("./times.js").Part} Part
 * @typedef {import("./times.js").PlannedLine} PlannedLine
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {Pick<import("../wire.js").ScheduleDocument, "film" | "stations">} PlanSchedule
 * @typedef {object} Scales
 * @property {(t_s: number) => number} x
 * @property {(share: number) => number} y
 * @property {number} from_s
 * @property {number} to_s
 * @property {number} left
 * @property {number} right
 * @property {number} top
 * @property {number} bottom
 * @property {number} em
 */

const EDGE = { left: 40, right: 14, top: 42, bottom: 26 }; // at 16 px to the em
const STEP = 16; // between the two lines of names
const TICK_WIDTH = 76; // a time below the chart takes this much

/** @type {[Part, string][]} */
const PARTS = [
  ["start", "Start"],
  ["whole", "Whole show"],
  ["end", "End"],
];

export class PlanChart extends LitElement {
  /** @override */
  static properties = { checked: { attribute: false }, view: { state: true } };

  /** @override */
  static styles = [
    shared,
    chartInk,
    css`
      :host {
        display: block;
      }
      figure {
        margin: 0;
        height: clamp(12rem, 36vh, 26rem);
        position: relative;
        overflow: hidden;
      }
      .planned {
        stroke: var(--ink);
        stroke-width: 1.5;
      }
      .strike {
        fill: var(--watch);
        fill-opacity: 0.35;
        stroke: var(--watch);
      }
      .motor {
        fill: var(--ink);
      }
      .parts {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
        align-items: center;
      }
      .parts button[aria-pressed="true"] {
        border-color: var(--ink);
        background: var(--lit);
        font-weight: 700;
      }
      .key {
        color: var(--ink-2);
        font-size: 0.85rem;
        display: inline-flex;
        align-items: center;
        gap: 0.3rem;
      }
      .key svg {
        position: static;
        width: 1.4rem;
        height: 0.8rem;
      }
    `,
  ];

  constructor() {
    super();
    /** The last that could be drawn. @type {import("../wire.js").CheckedPlan | null} */
    this.checked = null;
    /** @type {Part} */
    this.view = "start";
    this.size = new Measured(this, "figure");
  }

  /** @override */
  render() {
    const { info, schedule } = this.checked ?? { info: null, schedule: null };
    return html`
      <div class="parts" role="group" aria-label="Part of the show">
        ${PARTS.map(([part, name]) => html`<button type="button" aria-pressed=${part === this.view} @click=${() => (this.view = part)}>${name}</button>`)}
        <span class="key"><svg viewBox="0 0 22 12" aria-hidden="true"><rect class="strike" x="1" y="2" width="20" height="8" /></svg>strike window</span>
        <span class="key"><svg viewBox="0 0 22 12" aria-hidden="true"><path class="motor" d="M6 0L14 6L6 12Z" /></svg>motor starts</span>
      </div>
      <figure aria-label="Stringline chart of the plan">${info && schedule && this.size.height > 0 ? this.#chart(info, schedule) : nothing}</figure>
    `;
  }

  /** @param {RunInfo} info @param {PlanSchedule} schedule */
  #chart(info, schedule) {
    const scales = this.#scales(schedule);
    const lines = plannedLines(info, schedule);
    const shares = heights(info);
    const { width, height } = this.size;
    const { left, right } = scales;
    return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="Planned passes of every mark, by time and house. The table of times says the same.">
      ${this.#ground(info, shares, scales)}
      <svg x=${left} width=${Math.max(right - left, 0)} height=${height}>
        <g transform="translate(${-left} 0)">${this.#stations(schedule, shares, scales)} ${lines.map((each) => this.#line(each, shares, scales))}</g>
      </svg>
      ${this.#names(lines, scales)}
    </svg>`;
  }

  /** @param {PlanSchedule} schedule @returns {Scales} */
  #scales(schedule) {
    const { em } = this.size;
    const [left, top] = [EDGE.left * em, EDGE.top * em];
    const [right, bottom] = [this.size.width - EDGE.right * em, this.size.height - EDGE.bottom * em];
    const [from_s, to_s] = spanOf(schedule, this.view);
    return { x: scaleLinear([from_s, to_s], [left, right]), y: scaleLinear([0, 1], [top + 8, bottom - 8]), from_s, to_s, left, top, right, bottom, em };
  }

  /** @param {RunInfo} info @param {number[]} shares @param {Scales} scales */
  #ground(info, shares, { x, y, from_s, to_s, left, top, right, bottom, em }) {
    const clock = planClock(info);
    const every_s = tickEvery(to_s - from_s, Math.max((right - left) / (TICK_WIDTH * em), 1));
    let taken = -Infinity;
    return svg`
      ${roundMoments([from_s, to_s], clock.zero_ms, every_s).map(
        (t_s) => svg`<path class="tick" d="M${x(t_s)} ${top}V${bottom}" />
          <text class="time" x=${x(t_s)} y=${bottom + 18 * em} text-anchor="middle">${timeText(clock, t_s, every_s < 60)}</text>`,
      )}
      ${info.stations.map(({ house }, place) => {
        const at = y(shares[place] ?? 0);
        const free = at - taken >= 13 * em;
        if (free) taken = at;
        return svg`<path class="station" d="M${left} ${at}H${right}" />
          ${free ? svg`<text class="house" x=${left - 8} y=${at + 4 * em} text-anchor="end">${house}</text>` : nothing}`;
      })}
    `;
  }

  /** When each lamp is struck and each motor starts. @param {PlanSchedule} schedule @param {number[]} shares @param {Scales} scales */
  #stations({ stations }, shares, { x, y }) {
    return stations.map(({ start_s, strike_opens_s, strike_closes_s }, place) => {
      const at = y(shares[place] ?? 0);
      const start = x(start_s);
      return svg`<rect class="strike" x=${x(strike_opens_s)} y=${at - 4} width=${Math.max(x(strike_closes_s) - x(strike_opens_s), 1)} height="8" />
        <path class="motor" d="M${start} ${at - 5}L${start + 8} ${at}L${start} ${at + 5}Z" />`;
    });
  }

  /** @param {PlannedLine} each @param {number[]} shares @param {Scales} scales */
  #line({ points }, shares, { x, y }) {
    const path = line(
      (/** @type {{t_s: number, place: number}} */ point) => x(point.t_s),
      (/** @type {{t_s: number, place: number}} */ point) => y(shares[point.place] ?? 0),
    );
    return svg`<path class="planned" d=${path(points.map(({ t_s }, place) => ({ t_s, place }))) ?? ""} />`;
  }

  /** The name of each line where it comes in at the first house, in two lines of text where there is room. @param {PlannedLine[]} lines @param {Scales} scales */
  #names(lines, { x, from_s, to_s, top, right, left, em }) {
    const ends = [-Infinity, -Infinity];
    return lines.map(({ mark, points }) => {
      const [first] = points;
      if (!first || first.t_s < from_s || first.t_s > to_s) return nothing;
      const title = mark.title.length > 28 ? `${mark.title.slice(0, 27)}…` : mark.title;
      const long = title.length * 7.2 * em;
      const at = Math.max(Math.min(x(first.t_s), right - long), left);
      const step = ends.findIndex((end) => at - end >= 6);
      if (step < 0) return nothing;
      ends[step] = at + long;
      return svg`<text class="name" x=${at} y=${top - (6 + step * STEP) * em}>${title}</text>`;
    });
  }
}

customElements.define("plan-chart", PlanChart);
