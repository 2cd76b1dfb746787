// @ts-check
// The stringline chart: time across, stations down at their film distance, one line for each mark. It scrolls under "now".

import { LitElement, css, html, nothing, repeat, svg } from "../../vendor/lit.js";
import { area, line, scaleLinear } from "../../vendor/d3.js";
import { inOneLine } from "../picture/fit.js";
import { clockText, houseClock, timeText } from "../words/format.js";
import { isOwnPoint } from "../picture/film.js";
import { chainStands } from "../live/standing.js";
import { roundMoments, spanFor, stringLines, windowAround } from "../picture/stringlines.js";
import { chartInk, swatch } from "../elements/chart-ink.js";
import { widthIn } from "../elements/letters.js";
import { Measured } from "../elements/measured.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("../picture/stringlines.js").StringLine} StringLine
 * @typedef {import("../picture/stringlines.js").StringPoint} StringPoint
 * @typedef {object} Scales
 * @property {(t_s: number) => number} x
 * @property {(ahead_s: number) => number} y
 * @property {number} from_s
 * @property {number} to_s
 * @property {number} left edges of the plot, in pixels
 * @property {number} top
 * @property {number} right
 * @property {number} bottom
 * @property {number} em what 16 px of EDGE are here
 * @property {number} steps lines of names above the chart
 */

const [HOUSE_PX, NAME_PX] = [14.4, 13.6]; // how large houses and lines are named, at 16 px to the em: as the styles have it
const BOLD = 600;
const EDGE = { gap: 14, left: 46, top: 8, right: 16, bottom: 26 }; // at 16 px to the em
const STEP = 17; // from one line of names above the chart to the next, at 16 px to the em
const BAND_SD = 1.645; // 90 %, as the forecasts
const TICK_S = 300;
const NOW_ROOM = 70; // what "now 10:59" and half a time beside it take

export class StringChart extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    schedule: { attribute: false },
    now_s: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    chartInk,
    css`
      :host {
        display: flex;
        flex-direction: column;
        position: relative; /* a table that is opened stands over the chart */
      }
      figure {
        margin: 0;
        flex: 1 1 0;
        min-height: 4rem;
        position: relative;
        overflow: hidden;
      }
      .house {
        font-size: 0.9rem;
      }
      /* Points of the print that are the start of no piece are thinner. */
      .own .observed {
        stroke-width: 1.5;
      }
      .own .expected {
        stroke-width: 1;
        stroke-dasharray: 2 4;
      }
      .own .band {
        fill-opacity: 0.07;
      }
      .past {
        fill: var(--surface);
      }
      .now {
        stroke: var(--ink);
        stroke-width: 2;
      }
      .now-text {
        font-size: 0.9rem;
        font-weight: 700;
        fill: var(--ink);
      }
      .beyond {
        font-size: 0.95rem;
        paint-order: stroke;
        stroke: var(--ground);
        stroke-width: 5px;
      }
      footer {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0 0.7rem;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** @type {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} */
    this.schedule = null;
    this.now_s = 0;
    this.size = new Measured(this, "figure");
  }

  /** @override */
  render() {
    return html`
      <figure aria-label="Stringline chart of the run">${this.state && this.size.height > 0 ? this.#chart(this.state) : nothing}</figure>
      <footer>
        <span>${swatch("planned")}planned</span>
        <span>${swatch("observed")}observed</span>
        <span>${swatch("expected")}expected, 90 % band</span>
        <slot></slot>
      </footer>
    `;
  }

  /** @param {import("../live/store.js").RunState} state */
  #chart(state) {
    const scales = this.#scales(state);
    // Beside a table that was opened there may be no room for it.
    if (scales.bottom <= scales.top || scales.right <= scales.left) return nothing;
    const lines = stringLines(state, this.schedule);
    const { width, height } = this.size;
    return html`<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="Passes of every mark, by time and station. The chart as a table says the same.">
      ${this.#ground(state, scales)}
      <svg x=${scales.left} width=${scales.right - scales.left} height=${height}>
        <g transform="translate(${-scales.left} 0)">${repeat(
          lines,
          ({ mark }) => mark.id,
          (each) => stringMarkup(each, scales),
        )}</g>
      </svg>
      ${this.#names(lines, scales)} ${this.#beyond(state, lines, scales)} ${this.#now(state, scales)}
    </svg>`;
  }

  /** @param {import("../live/store.js").RunState} state @returns {Scales} */
  #scales({ info }) {
    const { em } = this.size;
    const steps = info.marks.some(isOwnPoint) ? 3 : 2;
    const names = Math.max(...info.stations.map(({ house }) => widthIn(this, BOLD)(house))) * HOUSE_PX + EDGE.gap;
    const [left, top] = [Math.min(Math.max(EDGE.left, names) * em, this.size.width / 5), (EDGE.top + STEP * steps) * em];
    const [right, bottom] = [this.size.width - EDGE.right * em, this.size.height - EDGE.bottom * em];
    const chain_s = Math.max(...info.stations.map(({ ahead_s }) => ahead_s), 1);
    const [from_s, to_s] = windowAround(this.now_s, spanFor(chain_s) * Math.min(this.size.width / (1000 * em), 1));
    const x = scaleLinear([from_s, to_s], [left, right]);
    const y = scaleLinear([0, chain_s], [top + 8, bottom - 8]);
    return { x, y, from_s, to_s, left, top, right, bottom, em, steps };
  }

  /** @param {import("../live/store.js").RunState} state @param {Scales} scales */
  #ground({ info }, { x, y, from_s, to_s, left, top, right, bottom, em }) {
    const clock = houseClock(info);
    let taken = -Infinity;
    return svg`
      <rect class="past" x=${left} y=${top} width=${x(this.now_s) - left} height=${bottom - top} />
      ${roundMoments([from_s, to_s], clock.zero_ms, TICK_S).map(
        (t_s) => svg`<path class="tick" d="M${x(t_s)} ${top}V${bottom}" />
          ${Math.abs(x(t_s) - x(this.now_s)) < NOW_ROOM * em ? nothing : svg`<text class="time" x=${x(t_s)} y=${bottom + 18 * em} text-anchor="middle">${clockText(clock, t_s)}</text>`}`,
      )}
      ${info.stations.map(({ house, ahead_s }) => {
        const at = y(ahead_s);
        const free = at - taken >= 14 * em;
        if (free) taken = at;
        return svg`<path class="station" d="M${left} ${at}H${right}" />
          ${free ? svg`<text class="house" x=${left - 10} y=${at + 5} text-anchor="end">${inOneLine(house, (left - 14) / (HOUSE_PX * em), widthIn(this, BOLD))}</text>` : nothing}`;
      })}
    `;
  }

  /** The name of each line where it comes in at the first gate, in two steps or three so that neighbours do not collide. Where it came in before it stands at the left edge; the last end with the chart. @param {StringLine[]} lines @param {Scales} scales */
  #names(lines, { x, y, from_s, to_s, left: edge, right, top, em, steps }) {
    /** @type {number[]} */
    const ends = Array(steps).fill(-Infinity);
    let lowest = Infinity;
    return lines.map(({ mark, parts, planned }) => {
      const points = parts.length > 0 ? parts.flatMap((part) => part.points) : planned;
      const [first, last] = [points[0], points[points.length - 1]];
      if (!first || !last || last.t_s < from_s || first.t_s > to_s) return nothing;
      if (first.t_s < from_s) {
        const at = y(distanceAt(points, from_s));
        if (lowest - at < 16 * em) return nothing;
        lowest = at;
        return svg`<text class="name" x=${edge + 4} y=${at - 5}>${mark.title}</text>`;
      }
      const long = widthIn(this, BOLD)(mark.title) * NAME_PX * em;
      const left = Math.min(x(first.t_s), right - long);
      const step = ends.findIndex((end) => left - end >= 6);
      if (step < 0) return nothing;
      ends[step] = left + long;
      return svg`<text class="name" x=${left} y=${top - 6 - step * STEP * em}>${mark.title}</text>`;
    });
  }

  /** Where nothing is to come within the chart: what comes next at the first gate. @param {import("../live/store.js").RunState} state @param {StringLine[]} lines @param {Scales} scales */
  #beyond(state, lines, { x, to_s, top, bottom }) {
    const { info } = state;
    if (chainStands(state)) return nothing; // nothing comes to any gate until it starts again
    const firsts = lines.flatMap(({ mark, parts, planned }) => {
      const first = (parts[0]?.points ?? planned)[0];
      return first && first.t_s > this.now_s ? [{ mark, t_s: first.t_s }] : [];
    });
    const [next] = firsts.sort((a, b) => a.t_s - b.t_s);
    if (!next || next.t_s < to_s) return nothing;
    const said = `${next.mark.title} comes to House ${info.stations[0]?.house} at ${timeText(houseClock(info), next.t_s, this.now_s)}`;
    return svg`<text class="beyond" x=${x(to_s) - 12} y=${(top + bottom) / 2} text-anchor="end">${said} →</text>`;
  }

  /** @param {import("../live/store.js").RunState} state @param {Scales} scales */
  #now({ info }, { x, top, bottom, em }) {
    const at = x(this.now_s);
    return svg`<path class="now" d="M${at} ${top - 2}V${bottom}" />
      <text class="now-text name" x=${at} y=${bottom + 18 * em} text-anchor="middle">now ${clockText(houseClock(info), this.now_s)}</text>`;
  }
}

/** One line of the chart: the plan thin below it, the band, then what is known. @param {StringLine} each @param {Scales} scales */
function stringMarkup({ mark, planned, parts }, { x, y }) {
  const path = line(
    (/** @type {StringPoint} */ point) => x(point.t_s),
    (/** @type {StringPoint} */ point) => y(point.ahead_s),
  );
  const band = area((/** @type {StringPoint} */ point) => x(point.t_s - BAND_SD * point.sd_s), 0)
    .x0((point) => x(point.t_s - BAND_SD * point.sd_s))
    .x1((point) => x(point.t_s + BAND_SD * point.sd_s))
    .y((point) => y(point.ahead_s));
  return svg`<g class=${isOwnPoint(mark) ? "own" : ""}>
    <path class="planned" d=${path(planned) ?? ""} />
    ${parts.map(({ seen, points }) => (seen ? nothing : svg`<path class="band" d=${band(points) ?? ""} />`))}
    ${parts.map(({ seen, points }) => svg`<path class=${seen ? "observed" : "expected"} d=${path(points) ?? ""} />`)}
    ${parts.flatMap(({ points }) => points.filter((point) => point.seen).map((point) => svg`<rect class="pass" x=${x(point.t_s) - 3.5} y=${y(point.ahead_s) - 3.5} width="7" height="7" />`))}
  </g>`;
}

/** The film distance at which a line is at a moment. @param {StringPoint[]} points @param {number} t_s */
function distanceAt(points, t_s) {
  const next = points.findIndex((point) => point.t_s >= t_s);
  const [before, after] = [points[next - 1], points[next]];
  if (!before || !after) return points[0]?.ahead_s ?? 0;
  return before.ahead_s + ((t_s - before.t_s) / (after.t_s - before.t_s)) * (after.ahead_s - before.ahead_s);
}

customElements.define("string-chart", StringChart);
