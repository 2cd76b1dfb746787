// @ts-check
// The next things to do, one large target each: it is touched once the thing is done.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { CAUTIONS, SITE_RULES } from "../live/cautions.js";
import { clockText, countdown, isLong } from "../words/format.js";
import { taskTime } from "../live/tasktime.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../live/steps.js").Step} Step */

const SHOWN = 4; // chosen: more is no longer next

export class NextSteps extends LitElement {
  /** @override */
  static properties = {
    steps: { attribute: false },
    clock: { attribute: false },
    empty: { attribute: false },
    now_s: { attribute: false },
    lost: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      ol {
        display: grid;
        gap: 0.5rem;
      }
      li button {
        display: grid;
        grid-template-columns: minmax(0, 1fr) auto;
        align-items: center;
        gap: 0.2rem 0.8rem;
        width: 100%;
        min-height: 4.6rem;
        padding: 0.5rem 0.9rem;
        text-align: start;
        font-size: 1.25rem;
        line-height: 1.15;
        font-weight: 600;
      }
      li:first-child button {
        min-height: 6.2rem;
        font-size: 1.7rem;
        border: 3px solid var(--ink);
        background: var(--lit);
      }
      small {
        display: block;
        font-size: 0.95rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .left {
        text-align: end;
        white-space: nowrap;
      }
      .left b {
        font-size: 2rem;
        line-height: 1;
      }
      li:first-child .left b {
        font-size: 3rem;
      }
      li:first-child .left b.long,
      .left b.long {
        font-size: 1.5rem;
      }
      .over b {
        text-decoration: underline;
        text-decoration-thickness: 0.1em;
        text-underline-offset: 0.12em;
      }
      .over b + small {
        margin-top: 0.35rem;
      }
      .tapped button {
        border: 2px dashed var(--ink-2);
        background: none;
        cursor: default;
      }
      .tapped .what {
        color: var(--ink-2);
      }
      .what {
        min-width: 0;
        overflow-wrap: anywhere;
      }
      @media (max-width: 299px) {
        li button,
        li:first-child button {
          grid-template-columns: minmax(0, 1fr);
          font-size: 1.15rem;
          padding-inline: 0.5rem;
        }
        .left {
          text-align: start;
        }
        .left b,
        li:first-child .left b {
          font-size: 1.6rem;
        }
      }
      p {
        color: var(--ink-2);
      }
      .caution {
        font-size: 0.95rem;
        line-height: 1.3;
        margin: 0.3rem 0 0.5rem;
      }
      .empty {
        font-size: 1.4rem;
        line-height: 1.2;
        padding: 0.6rem 0;
      }
      .more {
        margin-top: 0.4rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Step[]} */
    this.steps = [];
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    /** What to say where nothing has to be done. */
    this.empty = "";
    this.now_s = 0;
    /** Whether the server is away: then a step has its time of day, and nothing is counted down. */
    this.lost = false;
  }

  /** @override */
  render() {
    const shown = this.steps.slice(0, SHOWN);
    const more = this.steps.length - shown.length;
    const cautioned = shown.find(({ kind }) => CAUTIONS[kind]);
    return html`
      <h2 class="unseen">Next</h2>
      ${shown.length ? nothing : html`<p class="empty">${this.empty}</p>`}
      <ol>
        ${repeat(
          shown,
          ({ key }) => key,
          (step) => this.#step(step, step === cautioned),
        )}
      </ol>
      ${more > 0 ? html`<p class="more">and ${more} more after that</p>` : nothing}
    `;
  }

  /** @param {Step} step @param {boolean} cautioned */
  #step(step, cautioned) {
    const { text, tapped, kind } = step;
    const when = this.#when(step);
    const done = () => this.dispatchEvent(new CustomEvent("done", { detail: step.done }));
    return html`<li class="${tapped ? "tapped" : ""} ${when.said}">
      <button type="button" aria-disabled=${tapped !== null} @click=${tapped ? nothing : done}>
        <span class="what">${text} <small>${tapped ? tappedText(tapped) : "touch when it is done"}</small></span>
        <span class="left">${tapped ? nothing : html`<small>${when.before}</small> <b class=${when.long ? "long" : ""}>${when.time}</b> <small>${when.after}</small>`}</span>
      </button>
      ${cautioned ? html`<p class="caution">${CAUTIONS[kind]} ${SITE_RULES}</p>` : nothing}
    </li>`;
  }

  /** @param {Step} step */
  #when(step) {
    if (this.lost) return { said: "", before: "by", time: clockText(this.clock, step.due_s, true), long: false, after: "" };
    const { left_s, is } = taskTime(step, this.now_s);
    const when = { time: countdown(left_s), long: isLong(left_s) };
    if (is === "in") return { ...when, said: "", before: "in", after: "" };
    return { ...when, said: is === "over" ? is : "", before: "", after: is };
  }
}

/** @param {import("./taps.js").LogLine} line */
function tappedText({ state, event }) {
  const by = event.by ? ` by ${event.by}` : "";
  return state === "waiting" ? `said${by}: waiting to be sent` : `said${by}: taken, not seen yet`;
}

customElements.define("next-steps", NextSteps);
