// @ts-check
// The whole run as stringlines, with its alarms over them: everything of the chart but the moment that is looked at.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { area, line, scaleLinear } from "../../vendor/d3.js";
import { clockText, houseClock } from "../words/format.js";
import { believedPoints, passLines, stripRows } from "./passlines.js";
import { roundMoments } from "../picture/stringlines.js";
import { tickStep } from "../picture/timewindow.js";
import { chartInk } from "../elements/chart-ink.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("./passlines.js").PassLine} PassLine
 * @typedef {import("./passlines.js").PassPoint} PassPoint
 * @typedef {object} Plot
 * @property {(t_s: number) => number} x
 * @property {(ahead_s: number) => number} y
 * @property {number} left
 * @property {number} right
 * @property {number} top of the strip of alarms
 * @property {number} lines top of the stringlines
 * @property {number} bottom
 * @property {number} em
 */

export const EDGE = { left: 46, right: 14, top: 2, strip: 46, bottom: 24 }; // at 16 px to the em
const BAND_SD = 1.645; // 90 %, as the forecasts
const TICK_ROOM = 90; // pixels for one time under the chart
const MINUTE_S = 60;

export class RunDrawing extends LitElement {
  /** @override */
  static properties = {
    series: { attribute: false },
    info: { attribute: false },
    from_s: { attribute: false },
    to_s: { attribute: false },
    width: { attribute: false },
    height: { attribute: false },
    em: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    chartInk,
    css`
      path,
      rect {
        vector-effect: non-scaling-stroke;
      }
      .ground {
        fill: var(--surface);
      }
      .doubted {
        fill: var(--ground);
        stroke: var(--ink);
        stroke-width: 1.5;
      }
      .act {
        fill: var(--act);
      }
      .watch {
        fill: none;
        stroke: var(--watch);
        stroke-width: 2;
      }
      .note {
        fill: var(--ink-3);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").Series | null} */
    this.series = null;
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    this.from_s = 0;
    this.to_s = 1;
    this.width = 0;
    this.height = 0;
    /** What 16 px of EDGE are here. */
    this.em = 1;
  }

  /** @override */
  render() {
    const { series, info } = this;
    return series && info && this.height > 0 ? this.#drawn(series, info) : nothing;
  }

  /** Everything but the moment itself. @param {import("../wire.js").Series} series @param {import("../wire.js").RunInfo} info */
  #drawn(series, info) {
    const { width, height, em, from_s, to_s } = this;
    const plot = plotFrom({ info, from_s, to_s, width, height, em });
    const lines = passLines(series, info);
    const { left, right, bottom, lines: top } = plot;
    return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="Passes and alarms of the run, by time and station. The tables say the same.">
      <rect class="ground" x=${left} y=${top} width=${right - left} height=${bottom - top} />
      ${this.#ground(info, plot)}
      <svg x=${left} width=${right - left} height=${height}>
        <g transform="translate(${-left} 0)">${lines.map((each) => passMarkup(each, plot))} ${this.#strip(series, plot)}</g>
      </svg>
      ${this.#names(lines, plot)}
    </svg>`;
  }

  /** @param {import("../wire.js").RunInfo} info @param {Plot} plot */
  #ground(info, { x, y, left, right, lines, bottom, em }) {
    const clock = houseClock(info);
    const { from_s, to_s } = this;
    const every_s = tickStep(to_s - from_s, (right - left) / (TICK_ROOM * em));
    let taken = -Infinity;
    return svg`
      ${roundMoments([from_s, to_s], clock.zero_ms, every_s).map(
        (t_s) => svg`<path class="tick" d="M${x(t_s)} ${lines}V${bottom}" />
          <text x=${x(t_s)} y=${bottom + 17 * em} text-anchor="middle">${clockText(clock, t_s, every_s < MINUTE_S)}</text>`,
      )}
      ${info.stations.map(({ house, ahead_s }) => {
        const at = y(ahead_s);
        const free = at - taken >= 12 * em;
        if (free) taken = at;
        return svg`<path class="station" d="M${left} ${at}H${right}" />
          ${free ? svg`<text class="house" x=${left - 8} y=${at + 4} text-anchor="end">${house}</text>` : nothing}`;
      })}
    `;
  }

  /** Alarms over the chart, each as long as it was on: filled from when it was to act on, an outline to watch, a thin line to note. @param {import("../wire.js").Series} series @param {Plot} plot */
  #strip(series, { x, top, em }) {
    const told = series.alarms.filter(({ cause }) => cause === null);
    const { from_s, to_s } = this;
    const rows = stripRows(told, series.to_s, ((to_s - from_s) / this.width) * 8);
    const height = 8 * em;
    return told.map((alarm, place) => {
      const y = top + Math.min(rows[place] ?? 0, 2) * (height + 2);
      const bar = (/** @type {import("../wire.js").Alarm["level"]} */ level, /** @type {number} */ begin_s, /** @type {number} */ end_s) => {
        const [thick, inset] = level === "note" ? [height / 3, height / 3] : [height, 0];
        const wide = Math.max(x(end_s) - x(begin_s), 4);
        return svg`<rect class=${level} x=${x(begin_s)} y=${y + inset} width=${wide} height=${thick}><title>${alarm.text}</title></rect>`;
      };
      const over_s = alarm.over_s ?? series.to_s;
      if (alarm.level !== "act" || alarm.act_s === null) return bar(alarm.level, alarm.told_s, over_s);
      const watched = alarm.act_s > alarm.told_s ? bar("watch", alarm.told_s, alarm.act_s) : nothing;
      return svg`${watched}${bar("act", alarm.act_s, over_s)}`;
    });
  }

  /** The name of each line at the first gate, where there is room for it; the last ends with the chart. @param {PassLine[]} lines @param {Plot} plot */
  #names(lines, { x, lines: top, left, right, em }) {
    let taken = -Infinity;
    return lines.map(({ mark, planned, observed }) => {
      const first = observed[0] ?? planned[0];
      if (!first) return nothing;
      const at = x(first.t_s);
      const long = mark.title.length * 7.4 * em;
      const from = Math.min(at, right - long);
      if (at < left || at > right || from < Math.max(left, taken + 6)) return nothing;
      taken = from + long;
      return svg`<text class="name" x=${from} y=${top - 4 * em}>${mark.title}</text>`;
    });
  }
}

/** Where everything of the chart is. @param {{info: import("../wire.js").RunInfo, from_s: number, to_s: number, width: number, height: number, em: number}} shown @returns {Plot} */
export function plotFrom({ info, from_s, to_s, width, height, em }) {
  const [left, top] = [EDGE.left * em, EDGE.top];
  const [right, bottom] = [width - EDGE.right * em, height - EDGE.bottom * em];
  const lines = top + EDGE.strip * em;
  const chain_s = Math.max(...info.stations.map(({ ahead_s }) => ahead_s), 1);
  return {
    x: scaleLinear([from_s, to_s], [left, right]),
    y: scaleLinear([0, chain_s], [lines + 10 * em, bottom - 6 * em]),
    ...{ left, right, top, lines, bottom, em },
  };
}

/** One mark: the plan thin, what was expected broken with its band, what was seen solid; what was seen and not believed as an empty square. @param {PassLine} each @param {Plot} plot */
function passMarkup({ planned, expected, observed }, { x, y }) {
  const path = line(
    (/** @type {PassPoint} */ point) => x(point.t_s),
    (/** @type {PassPoint} */ point) => y(point.ahead_s),
  );
  const band = area((/** @type {PassPoint} */ point) => x(point.t_s - BAND_SD * point.sd_s), 0)
    .x0((point) => x(point.t_s - BAND_SD * point.sd_s))
    .x1((point) => x(point.t_s + BAND_SD * point.sd_s))
    .y((point) => y(point.ahead_s));
  return svg`
    <path class="band" d=${band(expected) ?? ""} />
    <path class="planned" d=${path(planned) ?? ""} />
    <path class="expected" d=${path(expected) ?? ""} />
    <path class="observed" d=${path(believedPoints(observed)) ?? ""} />
    ${observed.map(({ t_s, ahead_s, believed }) => svg`<rect class=${believed ? "pass" : "doubted"} x=${x(t_s) - 3} y=${y(ahead_s) - 3} width="6" height="6" />`)}
  `;
}

customElements.define("run-drawing", RunDrawing);
