// @ts-check
// One station at its post: the house, its phase, its lamp, what the house sees, and the countdown to what is next there.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { printAt } from "../estimate.js";
import { segmentAt } from "../film.js";
import { countdown, isLong } from "../format.js";
import { houseInWords } from "../houses.js";
import { nextAt } from "../next.js";
import { shared } from "./shared.js";

const LONG = 4; // letters of a house's name that stand at full size: chosen

export class StationCard extends LitElement {
  /** @override */
  static properties = {
    station: { attribute: false },
    state: { attribute: false },
    start_s: { attribute: false },
    planned: { attribute: false },
    prompt: { attribute: false },
    level: { attribute: false },
    density: { reflect: true },
    now_s: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        height: 100%;
        border-left: 2px solid var(--rule);
        padding-right: 0.3rem;
      }
      article {
        flex: 1;
        min-width: 0;
        padding: 0.35rem 0.2rem 0.45rem 0.6rem;
        display: flex;
        flex-direction: column;
        font-size: 0.84rem;
        line-height: 1.25;
        color: var(--ink-2);
      }
      article.showing {
        background: var(--lit);
        color: var(--ink);
      }
      header {
        display: flex;
        align-items: baseline;
        gap: 0.4rem;
        color: var(--ink);
      }
      h3 {
        font-size: 3rem;
        line-height: 1;
        font-weight: 700;
        letter-spacing: -0.02em;
      }
      .phase {
        font-size: 1.15rem;
        font-weight: 600;
      }
      .title {
        overflow: hidden;
        text-overflow: ellipsis;
        white-space: nowrap;
      }
      .lamp {
        display: flex;
        align-items: center;
        gap: 0.35rem;
      }
      svg {
        width: 1.15rem;
        height: 1.15rem;
        flex: none;
      }
      .next {
        margin-top: auto;
        padding-top: 0.3rem;
        color: var(--ink);
      }
      .next b {
        font-size: 1.7rem;
        line-height: 1.05;
        font-weight: 600;
        white-space: nowrap;
      }
      .next b.long {
        font-size: 1.2rem;
      }
      .act,
      .watch {
        align-self: start;
        padding: 0.1rem 0.5rem;
        border-radius: 0.25rem;
        font-weight: 700;
        font-size: 1rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
      }
      .watch {
        border: 2px solid var(--watch);
        color: var(--ink);
      }
      h3.long {
        font-size: 1.6rem;
        letter-spacing: 0;
        overflow-wrap: anywhere;
      }
      header {
        flex-wrap: wrap;
      }
      :host([density="close"]) article,
      :host([density="dense"]) article {
        padding: 0.1rem 0.2rem 0.15rem 0.5rem;
      }
      :host([density="close"]) h3:not(.long) {
        font-size: 2.3rem;
      }
      :host([density="dense"]) h3 {
        font-size: 1.6rem;
      }
      :host([density="dense"]) header {
        flex-wrap: nowrap;
      }
      :host([density="dense"]) .phase {
        font-size: 0.9rem;
      }
      :host([density="dense"]) .act,
      :host([density="dense"]) .watch {
        font-size: 0.85rem;
        padding: 0 0.3rem;
        white-space: nowrap;
      }
      :host([density="close"]) .next b {
        font-size: 1.1rem;
      }
      :host([density="dense"]) .next {
        padding: 0;
        margin: 0;
        font-size: 0.75rem;
        white-space: nowrap;
      }
      :host([density="dense"]) .next b {
        font-size: 0.9rem;
      }
      :host([small]) h3 {
        font-size: 2.3rem;
      }
      @media (max-width: 1599px) {
        h3:not(.long) {
          font-size: var(--far-house, 2.3rem);
        }
        .phase {
          font-size: 1rem;
        }
        .next b {
          font-size: 1.35rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../messages.js").Station | null} */
    this.station = null;
    /** @type {import("../store.js").RunState | null} */
    this.state = null;
    /** When its motor is to start, where it stands and that is known. @type {number | null} */
    this.start_s = null;
    /** @type {import("../messages.js").StationSchedule | null} */
    this.planned = null;
    /** @type {import("../messages.js").Prompt | null} */
    this.prompt = null;
    /** @type {import("../messages.js").Level | null} */
    this.level = null;
    /** How little room there is: none in particular, `close` or `dense`. @type {"" | "close" | "dense"} */
    this.density = "";
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { station, state, level, now_s } = this;
    const info = state?.info;
    const named = info?.stations.find(({ id }) => id === station?.id);
    if (!station || !info || !named) return nothing;
    const words = houseInWords(station, this.planned, state, now_s);
    const next = words.state === "stands" ? "" : words.next; // the chain's headline says since when, and the countdown until when
    const waits = words.state === "before" || (words.state === "soon" && words.next !== "");
    const showing = station.phase === "showing" && segmentAt(info.segments, printAt(station, now_s));
    if (this.density) return this.#brief(named.house, words.state);
    return html`
      <article class=${words.state} aria-label="House ${named.house}">
        <header>
          <h3 class=${named.house.length > LONG ? "long" : ""}><span class="unseen">House </span>${named.house}</h3>
          <span class="phase">${station.phase}</span>
        </header>
        ${level === "act" || level === "watch" ? html`<p class=${level}>${level === "act" ? "act now" : "watch"}</p>` : nothing}
        <p class="lamp">${lampShape(station)} ${lampText(station)}</p>
        ${showing ? html`<p class="title" title=${showing.title}>${showing.title}</p>` : nothing}
        ${waits ? nothing : html`<p>${words.now}</p>`}
        ${next ? html`<p>${waits ? next.replace(/^at /, "starts ") : next}</p>` : nothing} ${words.plan ? html`<p>${words.plan}</p>` : nothing} ${this.#next()}
      </article>
    `;
  }

  /** Its number, what is asked for or wrong, and where there is room its lamp. @param {string} house @param {string} is */
  #brief(house, is) {
    const { station, level } = this;
    if (!station) return nothing;
    const loud = level === "act" || level === "watch" ? level : "";
    const next = this.#next();
    return html`<article class=${is} aria-label="House ${house}">
      <header>
        <h3 class=${house.length > LONG ? "long" : ""}><span class="unseen">House </span>${house}</h3>
        ${loud ? html`<span class=${loud}>${loud === "act" ? "act now" : "watch"}</span>` : html`<span class="phase">${station.phase}</span>`}
      </header>
      ${this.density === "close" || next === nothing ? html`<p class="lamp">${lampShape(station)} ${lampText(station)}</p>` : nothing} ${next}
    </article>`;
  }

  #next() {
    const next = this.station && nextAt(this.station, this.prompt, this.start_s, this.now_s);
    if (!next) return nothing;
    const left_s = next.at_s - this.now_s;
    return html`<p class="next">${next.what} <b class=${isLong(left_s) ? "long" : ""}>${countdown(left_s)}</b></p>`;
  }
}

/** @param {import("../messages.js").Station} station */
function lampText({ lamp, douser }) {
  if (lamp === "out") return "lamp out";
  return douser === "shut" ? "lit, douser shut" : "lamp lit";
}

/** A lamp by its shape: rays where it is lit, a barred ring where the douser blocks it, an empty ring where it is out. @param {import("../messages.js").Station} station */
function lampShape({ lamp, douser }) {
  const rays = Array.from({ length: 8 }, (_, ray) => svg`<path d="M0-7.5V-10" transform="rotate(${ray * 45})" />`);
  return html`<svg viewBox="-11 -11 22 22" aria-hidden="true" fill="none" stroke="currentColor" stroke-width="2">
    ${
      lamp === "out"
        ? svg`<circle r="5" />`
        : svg`<circle r="5" fill="currentColor" />${douser === "shut" ? svg`<path d="M-10 9H10M-10-9H10" />` : rays}`
    }
  </svg>`;
}

customElements.define("station-card", StationCard);
