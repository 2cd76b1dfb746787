// @ts-check
// The whole run as a stringline chart on which a moment is chosen: drag along it, and what was so is shown.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, houseClock } from "../words/format.js";
import { moved, showing, zoomed } from "../picture/timewindow.js";
import { chartInk, swatch } from "../elements/chart-ink.js";
import { Measured } from "../elements/measured.js";
import { EDGE, plotFrom } from "./run-drawing.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../picture/timewindow.js").TimeWindow} TimeWindow */

const MINUTE_S = 60;
const LABEL_REM = 6.4; // as wide as the time under the chart

export class RunChart extends LitElement {
  /** @override */
  static properties = {
    series: { attribute: false },
    info: { attribute: false },
    at_s: { attribute: false },
    shown: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    chartInk,
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
      .now,
      .time {
        position: absolute;
        left: 0;
        pointer-events: none;
        will-change: transform; /* a layer of its own: what is under it is not painted again */
      }
      .now {
        top: 0;
        width: 2px;
        margin-left: -1px;
        background: var(--ink);
      }
      .time {
        width: 6.4rem;
        white-space: nowrap;
        border-radius: 0.2rem;
        background: var(--ink);
        color: var(--ground);
        text-align: center;
        font-size: 0.8rem;
        line-height: 1.2rem;
        font-weight: 700;
      }
      run-drawing {
        position: absolute;
        inset: 0;
        will-change: transform;
        contain: strict;
      }
      footer {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.2rem 1.2rem;
        font-size: 0.85rem;
        color: var(--ink-2);
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
    /** @type {import("../wire.js").Series | null} */
    this.series = null;
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    this.at_s = 0;
    /** @type {TimeWindow | null} the part that is shown, null for the whole run */
    this.shown = null;
    this.size = new Measured(this, ".plot");
    /** @type {Map<number, number>} where each finger is, in pixels */
    this.fingers = new Map();
  }

  /** @override */
  firstUpdated() {
    this.#plotElement().addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
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
        aria-valuetext=${info ? clockText(houseClock(info), this.at_s, true, true) : ""}
        @pointerdown=${this.#down}
        @pointermove=${this.#move}
        @pointerup=${this.#up}
        @pointercancel=${this.#up}
        @keydown=${this.#key}
      >
        <run-drawing .series=${series} .info=${info} .from_s=${from_s} .to_s=${to_s} .width=${size.width} .height=${size.height} .em=${size.em}></run-drawing>
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

  /** @param {import("../wire.js").RunInfo} info */
  #cursor(info) {
    const [from_s, to_s] = this.#window();
    const { x, bottom, left, right } = plotFrom({ info, from_s, to_s, width: this.size.width, height: this.size.height, em: this.size.em });
    const at = x(this.at_s);
    if (at < left - 1 || at > right + 1) return nothing;
    const half = LABEL_REM * 8 * this.size.em;
    const label = Math.min(Math.max(at, left + half), right - half);
    return html`<div class="now" .style=${`height: ${bottom + 4}px; transform: translateX(${at}px)`}></div>
      <div class="time" aria-hidden="true" .style=${`top: ${bottom + 3}px; transform: translateX(${label - half}px)`}>${clockText(houseClock(info), this.at_s, true, true)}</div>`;
  }

  /** The moment under a place on the screen. @param {number} clientX */
  #momentAt(clientX) {
    const { em } = this.size;
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

customElements.define("run-chart", RunChart);
