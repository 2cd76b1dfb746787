// @ts-check
// The whole run as a stringline chart on which a moment is chosen: drag along it, and what was so is shown.

import { LitElement, css, guard, html, nothing, svg } from "../../vendor/lit.js";
import { area, line, scaleLinear } from "../../vendor/d3.js";
import { clockText, houseClock } from "../format.js";
import { believedPoints, passLines, stripRows } from "../passlines.js";
import { roundMoments } from "../stringlines.js";
import { moved, showing, tickStep, zoomed } from "../timewindow.js";
import { shared } from "./shared.js";

/**
 * @typedef {import("../passlines.js").PassLine} PassLine
 * @typedef {import("../passlines.js").PassPoint} PassPoint
 * @typedef {import("../timewindow.js").TimeWindow} TimeWindow
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

const EDGE = { left: 46, right: 14, top: 2, strip: 46, bottom: 24 }; // at 16 px to the em
const BAND_SD = 1.645; // 90 %, as the forecasts
const TICK_ROOM = 90; // pixels for one time under the chart
const MINUTE_S = 60;

export class RunChart extends LitElement {
  /** @override */
  static properties = {
    series: { attribute: false },
    info: { attribute: false },
    at_s: { attribute: false },
    shown: { state: true },
    size: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-direction: column;
      }
      .plot {
        position: relative;
        flex: 1 1 auto;
        min-height: 9rem;
        overflow: hidden;
        cursor: crosshair;
        touch-action: pan-y;
        user-select: none;
      }
      svg {
        position: absolute;
        inset: 0;
        width: 100%;
        height: 100%;
        font-size: 0.8rem;
        fill: var(--ink-2);
      }
      path,
      rect {
        vector-effect: non-scaling-stroke;
      }
      path {
        fill: none;
        stroke-linejoin: round;
      }
      .ground {
        fill: var(--surface);
      }
      .station {
        stroke: var(--rule);
      }
      .tick {
        stroke: var(--rule);
        stroke-dasharray: 1 5;
      }
      .house {
        font-weight: 600;
        fill: var(--ink);
      }
      .planned {
        stroke: var(--ink-3);
        stroke-width: 1;
      }
      .observed {
        stroke: var(--ink);
        stroke-width: 2.5;
      }
      .expected {
        stroke: var(--ink-2);
        stroke-width: 1.75;
        stroke-dasharray: 7 5;
      }
      .band {
        fill: var(--ink);
        fill-opacity: 0.13;
      }
      .pass {
        fill: var(--ink);
      }
      .doubted {
        fill: var(--ground);
        stroke: var(--ink);
        stroke-width: 1.5;
      }
      .name {
        fill: var(--ink);
        font-weight: 600;
        paint-order: stroke;
        stroke: var(--ground);
        stroke-width: 4px;
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
      .now {
        stroke: var(--ink);
        stroke-width: 2;
      }
      .now-ground {
        fill: var(--ink);
      }
      .now-text {
        font-weight: 700;
        fill: var(--ground);
      }
      .cursor {
        pointer-events: none;
      }
      footer {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.2rem 1.2rem;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
      footer svg {
        position: static;
        width: 34px;
        height: 10px;
        vertical-align: middle;
        margin-right: 0.35rem;
      }
      .zoom {
        display: flex;
        gap: 0.4rem;
        color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../debrief-messages.js").Series | null} */
    this.series = null;
    /** @type {import("../messages.js").RunInfo | null} */
    this.info = null;
    this.at_s = 0;
    /** @type {TimeWindow | null} the part that is shown, null for the whole run */
    this.shown = null;
    this.size = { width: 0, height: 0 };
    /** @type {Map<number, number>} where each finger is, in pixels */
    this.fingers = new Map();
    this.sizes = new ResizeObserver(([entry]) => {
      const { width = 0, height = 0 } = entry?.contentRect ?? {};
      this.size = { width, height };
    });
  }

  /** @override */
  firstUpdated() {
    const plot = this.#plotElement();
    this.sizes.observe(plot);
    plot.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    this.sizes.disconnect();
  }

  /** @override @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (changed.has("at_s") && this.shown) this.shown = showing(this.shown, this.at_s, this.#whole());
  }

  #plotElement() {
    return /** @type {HTMLElement} */ (this.renderRoot.querySelector(".plot"));
  }

  /** @returns {TimeWindow} */
  #whole() {
    return this.series ? [this.series.from_s, this.series.to_s] : [0, 1];
  }

  /** @returns {TimeWindow} */
  #window() {
    return this.shown ?? this.#whole();
  }

  /** @override */
  render() {
    const { series, info, size } = this;
    const [from_s, to_s] = this.#window();
    const ready = series !== null && info !== null && size.height > 0;
    return html`
      <div
        class="plot"
        role="slider"
        tabindex="0"
        aria-label="Moment of the run"
        aria-valuemin=${this.#whole()[0]}
        aria-valuemax=${this.#whole()[1]}
        aria-valuenow=${this.at_s}
        aria-valuetext=${info ? clockText(houseClock(info), this.at_s, true) : ""}
        @pointerdown=${this.#down}
        @pointermove=${this.#move}
        @pointerup=${this.#up}
        @pointercancel=${this.#up}
        @keydown=${this.#key}
      >
        ${ready ? guard([series, info, size.width, size.height, from_s, to_s], () => this.#drawn(series, info)) : nothing}
        ${ready ? this.#cursor(info) : nothing}
      </div>
      <footer>
        <div class="zoom">
          <button type="button" @click=${() => this.#zoom(0.4)}>Closer</button>
          <button type="button" @click=${() => this.#zoom(2.5)}>Wider</button>
          <button type="button" ?disabled=${this.shown === null} @click=${() => (this.shown = null)}>Whole run</button>
        </div>
        <span>${swatch("planned")}planned</span>
        <span>${swatch("expected")}expected, with its 90 % band</span>
        <span>${swatch("observed")}observed</span>
        <slot></slot>
      </footer>
    `;
  }

  /** @param {import("../messages.js").RunInfo} info @returns {Plot} */
  #plot(info) {
    const em = parseFloat(getComputedStyle(this).fontSize) / 16;
    const [left, top] = [EDGE.left * em, EDGE.top];
    const [right, bottom] = [this.size.width - EDGE.right * em, this.size.height - EDGE.bottom * em];
    const lines = top + EDGE.strip * em;
    const chain_s = Math.max(...info.stations.map(({ ahead_s }) => ahead_s), 1);
    return {
      x: scaleLinear(this.#window(), [left, right]),
      y: scaleLinear([0, chain_s], [lines + 10 * em, bottom - 6 * em]),
      ...{ left, right, top, lines, bottom, em },
    };
  }

  /** Everything but the moment itself. @param {import("../debrief-messages.js").Series} series @param {import("../messages.js").RunInfo} info */
  #drawn(series, info) {
    const plot = this.#plot(info);
    const lines = passLines(series, info);
    const { left, right, bottom, lines: top } = plot;
    return html`<svg viewBox="0 0 ${this.size.width} ${this.size.height}" role="img" aria-label="Passes and alarms of the run, by time and station. The tables say the same.">
      <rect class="ground" x=${left} y=${top} width=${right - left} height=${bottom - top} />
      ${this.#ground(info, plot)}
      <svg x=${left} width=${right - left} height=${this.size.height}>
        <g transform="translate(${-left} 0)">${lines.map((each) => passMarkup(each, plot))} ${this.#strip(series, plot)}</g>
      </svg>
      ${this.#names(lines, plot)}
    </svg>`;
  }

  /** @param {import("../messages.js").RunInfo} info @param {Plot} plot */
  #ground(info, { x, y, left, right, lines, bottom, em }) {
    const clock = houseClock(info);
    const [from_s, to_s] = this.#window();
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

  /** Alarms over the chart, each as long as it was on: filled to act on, an outline to watch, a thin line to note. @param {import("../debrief-messages.js").Series} series @param {Plot} plot */
  #strip(series, { x, top, em }) {
    const told = series.alarms.filter(({ cause }) => cause === null);
    const [from_s, to_s] = this.#window();
    const rows = stripRows(told, series.to_s, ((to_s - from_s) / this.size.width) * 8);
    const height = 8 * em;
    return told.map(({ level, told_s, over_s, text }, place) => {
      const row = Math.min(rows[place] ?? 0, 2);
      const wide = Math.max(x(over_s ?? series.to_s) - x(told_s), 4);
      const [thick, inset] = level === "note" ? [height / 3, height / 3] : [height, 0];
      return svg`<rect class=${level} x=${x(told_s)} y=${top + row * (height + 2) + inset} width=${wide} height=${thick}><title>${text}</title></rect>`;
    });
  }

  /** The name of each line at the first gate, where there is room for it. @param {PassLine[]} lines @param {Plot} plot */
  #names(lines, { x, lines: top, left, right, em }) {
    let taken = -Infinity;
    return lines.map(({ mark, planned, observed }) => {
      const first = observed[0] ?? planned[0];
      if (!first) return nothing;
      const at = x(first.t_s);
      if (at < left || at > right - 20 || at < taken + 6) return nothing;
      taken = at + mark.title.length * 7.4 * em;
      return svg`<text class="name" x=${at} y=${top - 4 * em}>${mark.title}</text>`;
    });
  }

  /** @param {import("../messages.js").RunInfo} info */
  #cursor(info) {
    const { x, top, bottom, left, right, em } = this.#plot(info);
    const at = x(this.at_s);
    if (at < left - 1 || at > right + 1) return nothing;
    const wide = 74 * em;
    const text = Math.min(Math.max(at, left + wide / 2), right - wide / 2);
    return html`<svg class="cursor" viewBox="0 0 ${this.size.width} ${this.size.height}" aria-hidden="true">
      <path class="now" d="M${at} ${top}V${bottom + 4}" />
      <rect class="now-ground" x=${text - wide / 2} y=${bottom + 3} width=${wide} height=${19 * em} rx="3" />
      <text class="now-text" x=${text} y=${bottom + 17 * em} text-anchor="middle">${clockText(houseClock(info), this.at_s, true)}</text>
    </svg>`;
  }

  /** The moment under a place on the screen. @param {number} clientX */
  #momentAt(clientX) {
    const em = parseFloat(getComputedStyle(this).fontSize) / 16;
    const { left, width } = this.#plotElement().getBoundingClientRect();
    const [from_s, to_s] = this.#window();
    const share = (clientX - left - EDGE.left * em) / Math.max(width - (EDGE.left + EDGE.right) * em, 1);
    return from_s + Math.min(Math.max(share, 0), 1) * (to_s - from_s);
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (event.button !== 0) return;
    this.#plotElement().setPointerCapture(event.pointerId);
    this.fingers.set(event.pointerId, event.clientX);
    if (this.fingers.size === 1) this.#seek(this.#momentAt(event.clientX));
  }

  /** One finger chooses the moment, two pull the chart apart. @param {PointerEvent} event */
  #move(event) {
    const before = this.fingers.get(event.pointerId);
    if (before === undefined) return;
    const other = [...this.fingers].find(([id]) => id !== event.pointerId)?.[1];
    if (other === undefined) this.#seek(this.#momentAt(event.clientX));
    else this.#pull(before, event.clientX, other);
    this.fingers.set(event.pointerId, event.clientX);
  }

  /** @param {number} before @param {number} after @param {number} other where the other finger is */
  #pull(before, after, other) {
    const apart = Math.max(Math.abs(after - other), 8);
    this.shown = zoomed(this.#window(), Math.max(Math.abs(before - other), 8) / apart, this.#momentAt(other), this.#whole());
  }

  /** @param {PointerEvent} event */
  #up(event) {
    this.fingers.delete(event.pointerId);
  }

  /** @param {WheelEvent} event */
  #wheel(event) {
    event.preventDefault();
    const [from_s, to_s] = this.#window();
    const sideways = event.shiftKey ? event.deltaY : event.deltaX;
    if (Math.abs(sideways) > Math.abs(event.shiftKey ? 0 : event.deltaY)) {
      this.shown = moved(this.#window(), (sideways / this.size.width) * (to_s - from_s), this.#whole());
      return;
    }
    this.shown = zoomed(this.#window(), Math.exp(event.deltaY * 0.002), this.#momentAt(event.clientX), this.#whole());
  }

  /** @param {number} factor */
  #zoom(factor) {
    const [from_s, to_s] = zoomed(this.#window(), factor, this.at_s, this.#whole());
    const [first_s, last_s] = this.#whole();
    this.shown = to_s - from_s >= last_s - first_s ? null : [from_s, to_s];
  }

  /** What a slider's keys do beside the page's own: a minute on and back, and to the two ends. @param {KeyboardEvent} event */
  #key(event) {
    const [first_s, last_s] = this.#whole();
    /** @type {Record<string, number>} */
    const places = { Home: first_s, End: last_s, PageDown: this.at_s + MINUTE_S, PageUp: this.at_s - MINUTE_S };
    const at_s = places[event.key];
    if (at_s === undefined) return;
    event.preventDefault();
    this.#seek(at_s);
  }

  /** @param {number} at_s */
  #seek(at_s) {
    this.dispatchEvent(new CustomEvent("seek", { detail: at_s, bubbles: true, composed: true }));
  }
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

/** @param {string} kind */
function swatch(kind) {
  return html`<svg viewBox="0 0 34 10" aria-hidden="true"><path class=${kind} d="M0 5H34" /></svg>`;
}

customElements.define("run-chart", RunChart);
