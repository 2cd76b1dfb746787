// @ts-check
// One station at its post: the house, its phase, its lamp, what the house sees, and the countdown to what is next there.

import { LitElement, css, html, nothing, svg } from "../../vendor/lit.js";
import { printAt } from "../picture/estimate.js";
import { segmentAt } from "../picture/film.js";
import { LINE, fitted } from "../picture/fit.js";
import { countdown, isLong } from "../words/format.js";
import { houseInWords } from "../lobby/houses.js";
import { nextAt } from "../live/next.js";
import { widthIn } from "./letters.js";
import { shared } from "./shared.js";

/** @typedef {"" | "close" | "dense" | "least"} Density how little room there is: none in particular, or so much less */
/** @typedef {import("../picture/fit.js").Room & {full: number, least: number}} NameRoom what a house's name has, in pixels, and how large it is at most and at least */

const BOLD = 700;
const BADGE_EM = 5.2; // "act now" with what is around it, in its own letters: measured

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
    room: { attribute: false },
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
        font-size: 0.85rem;
        line-height: 1.25;
        color: var(--ink-2);
        overflow: hidden;
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
        font-weight: 700;
        min-width: 0;
        overflow-wrap: anywhere;
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
        font-size: 1.1rem;
        white-space: normal;
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
      header {
        flex-wrap: wrap;
      }
      :host([density="close"]) article,
      :host([density="dense"]) article,
      :host([density="least"]) article {
        padding: 0.1rem 0.2rem 0.15rem 0.5rem;
      }
      /* Where there is little room each line is one line, and what has no room in it ends in dots. */
      :host(:is([density="dense"], [density="least"])) header {
        gap: 0.25rem;
      }
      :host(:is([density="dense"], [density="least"])) header,
      .line {
        flex-wrap: nowrap;
      }
      :host(:is([density="dense"], [density="least"])) h3 {
        flex: none;
        max-width: 100%;
      }
      .line {
        display: flex;
        align-items: baseline;
        gap: 0.4rem;
        min-width: 0;
      }
      :host(:is([density="dense"], [density="least"])) .phase,
      .line > :last-child,
      :host([density="dense"]) .next,
      :host([density="dense"]) .lamp {
        min-width: 0;
        overflow: hidden;
        text-overflow: ellipsis;
        white-space: nowrap;
      }
      :host(:is([density="dense"], [density="least"])) .phase {
        font-size: 0.9rem;
      }
      :host(:is([density="dense"], [density="least"])) .act,
      :host(:is([density="dense"], [density="least"])) .watch {
        flex: none;
        font-size: 0.85rem;
        padding: 0 0.2rem;
        white-space: nowrap;
      }
      :host([density="close"]) .next b {
        font-size: 1.1rem;
      }
      :host([density="dense"]) .next {
        padding: 0;
        margin: 0;
      }
      :host([density="dense"]) .next b {
        font-size: 0.9rem;
      }
      @media (max-width: 1599px) {
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
    /** @type {import("../wire.js").Station | null} */
    this.station = null;
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** When its motor is to start, where it stands and that is known. @type {number | null} */
    this.start_s = null;
    /** @type {import("../wire.js").ScheduledStation | null} */
    this.planned = null;
    /** @type {import("../wire.js").Prompt | null} */
    this.prompt = null;
    /** @type {import("../wire.js").Alarm["level"] | null} */
    this.level = null;
    /** @type {Density} */
    this.density = "";
    /** @type {NameRoom} */
    this.room = { width: Infinity, height: Infinity, full: 36, least: 12 };
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
          ${this.#name(named.house)}
          <span class="phase">${station.phase}</span>
        </header>
        ${level === "act" || level === "watch" ? html`<p class=${level}>${level === "act" ? "act now" : "watch"}</p>` : nothing}
        <p class="lamp">${lampShape(station)} ${lampText(station)}</p>
        ${showing ? html`<p class="title" title=${showing.title}>${showing.title}</p>` : nothing}
        ${waits ? nothing : html`<p>${words.now}</p>`}
        ${next ? html`<p>${waits ? next.replace(/^(at|starts) /, "picture at ") : next}</p>` : nothing} ${words.plan ? html`<p>${words.plan}</p>` : nothing} ${this.#next()}
      </article>
    `;
  }

  /** Its name, what is asked for or wrong, and where there is room its lamp. @param {string} house @param {string} is */
  #brief(house, is) {
    const { station, level } = this;
    if (!station) return nothing;
    const loud = level === "act" || level === "watch" ? html`<span class=${level}>${level === "act" ? "act now" : "watch"}</span>` : nothing;
    const how = loud === nothing ? html`<span class="phase">${station.phase}</span>` : loud;
    const next = this.#next();
    const lamp = this.density === "close" || next === nothing ? html`<p class="lamp">${lampShape(station)} ${lampText(station)}</p>` : nothing;
    const isShort = this.#print(house).size === this.room.full;
    if (this.density === "least") {
      return html`<article class=${is} aria-label="House ${house}"><header>${this.#name(house)} ${isShort || loud !== nothing ? how : nothing}</header></article>`;
    }
    return html`<article class=${is} aria-label="House ${house}">
      <header>${this.#name(house)} ${isShort ? how : nothing}</header>
      ${isShort ? html`${lamp} ${next}` : html`${this.density === "close" ? lamp : nothing}<div class="line">${next === nothing ? how : html`${loud} ${this.#next(true)}`}</div>`}
    </article>`;
  }

  /** A property, not an attribute: the content policy refuses style attributes. @param {string} house */
  #name(house) {
    const { text, size } = this.#print(house);
    return html`<h3 title=${text === house ? nothing : house} .style=${`font-size: ${size}px; line-height: ${LINE}`}><span class="unseen">House </span>${text}</h3>`;
  }

  /** In the least room what calls stands beside it. @param {string} house */
  #print(house) {
    const { level, room } = this;
    const calls = this.density === "least" && (level === "act" || level === "watch");
    const width = Math.max(1, room.width - (calls ? BADGE_EM * room.least : 0));
    return fitted(house, { ...room, width }, room.full, room.least, widthIn(this, BOLD));
  }

  /** @param {boolean} [first] whether its time is told first, because the rest may be cut */
  #next(first = false) {
    const next = this.station && nextAt(this.station, this.prompt, this.start_s, this.now_s);
    if (!next) return nothing;
    const left_s = next.at_s - this.now_s;
    if (first) return html`<p class="next"><b>${countdown(left_s)}</b> ${next.what}</p>`;
    return html`<p class="next">${next.what} <b class=${isLong(left_s) ? "long" : ""}>${countdown(left_s)}</b></p>`;
  }
}

/** @param {import("../wire.js").Station} station */
function lampText({ lamp, douser }) {
  if (lamp === "out") return "lamp out";
  return douser === "shut" ? "lit, douser shut" : "lamp lit";
}

/** A lamp by its shape: rays where it is lit, a barred ring where the douser blocks it, an empty ring where it is out. @param {import("../wire.js").Station} station */
function lampShape({ lamp, douser }) {
  const rays = Array.from({ length: 8 }, (_, ray) => svg`<path d="M0-7.5V-10" transform="rotate(${ray * 45})" />`);
  return html`<svg viewBox="-11 -11 22 22" aria-hidden="true" fill="none" stroke="currentColor" stroke-width="2">
    ${lamp === "out" ? svg`<circle r="5" />` : svg`<circle r="5" fill="currentColor" />${douser === "shut" ? svg`<path d="M-10 9H10M-10-9H10" />` : rays}`}
  </svg>`;
}

customElements.define("station-card", StationCard);
