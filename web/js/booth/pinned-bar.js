// @ts-check
// Pinned under the booth desk: what would be out of sight, a line each.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, countdown } from "../words/format.js";
import { placeAndWhat } from "../words/names.js";
import { taskTime } from "../live/tasktime.js";
import { shared } from "../elements/shared.js";

/** @typedef {{level: import("../wire.js").Alarm["level"], words: string, keys: string[]}} Called what calls first: its level, what its block says first, and what one touch acknowledges */

export class PinnedBar extends LitElement {
  /** @override */
  static properties = {
    pins: { attribute: false },
    called: { attribute: false },
    step: { attribute: false },
    clock: { attribute: false },
    now_s: { attribute: false },
    lost: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: grid;
        grid-template-columns: minmax(0, 1fr) auto;
        gap: 0.3rem 0.5rem;
        align-items: stretch;
        font-weight: 600;
        line-height: 1.15;
      }
      .words,
      .step {
        grid-column: 1;
        min-width: 0;
      }
      .alone {
        grid-column: 1 / -1;
      }
      .answer:not(.alone) {
        grid-column: 2;
      }
      /* In one line: the place gives way to what is to be done there. */
      .words {
        display: flex;
        align-items: center;
        gap: 0.3em;
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.2rem 0.6rem;
      }
      .words .place {
        flex: 0 1000 auto;
        min-width: 3em;
      }
      .words .what {
        min-width: 0;
      }
      .words span,
      .place {
        overflow: hidden;
        text-overflow: ellipsis;
        white-space: nowrap;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      button {
        color: var(--ink);
        font-weight: 600;
        line-height: 1.15;
      }
      .step {
        display: flex;
        align-items: center;
        gap: 0.6rem;
        text-align: start;
        border-color: var(--ink);
      }
      .todo {
        flex: 1;
        min-width: 0;
        display: flex;
        flex-wrap: wrap;
        gap: 0 0.3em;
      }
      .todo span {
        min-width: 0;
        max-width: 100%;
      }
      b {
        white-space: nowrap;
      }
      .waits {
        font-weight: 400;
        color: var(--ink-2);
      }
      @media (max-width: 599px) {
        .stop:not(.alone) {
          max-width: 7.5rem;
        }
        button {
          padding-inline: 0.6rem;
        }
      }
      /* A phone at 200 %: each has the whole width, and the two answers stand beside one another. */
      @media (max-width: 299px) {
        :host {
          grid-template-columns: auto minmax(0, 1fr);
          gap: 0.2rem 0.3rem;
        }
        .words,
        .step {
          grid-column: 1 / -1;
        }
        .answer:not(.alone) {
          grid-column: auto;
          max-width: none;
        }
        .acknowledge {
          order: 1;
        }
        .stop {
          order: 2;
        }
        .answer {
          font-size: 0.8rem;
          padding: 0.2rem 0.25rem;
        }
        .acknowledge ~ .stop.alone {
          grid-column: auto;
        }
        .step {
          padding: 0.2rem 0.4rem;
        }
        .todo .what {
          display: -webkit-box;
          -webkit-box-orient: vertical;
          -webkit-line-clamp: 3;
          overflow: hidden;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./pinned.js").Pin[]} */
    this.pins = [];
    /** The first alarm, or null. @type {Called | null} */
    this.called = null;
    /** The next step, or null. @type {import("../live/steps.js").Step | null} */
    this.step = null;
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.now_s = 0;
    this.lost = false;
  }

  /** @override */
  render() {
    const { called, step, pins } = this;
    const has = (/** @type {import("./pinned.js").Pin} */ pin) => pins.includes(pin);
    const isStep = has("step") && step !== null;
    return html`
      ${has("alarm") && called ? this.#alarm(called) : nothing} ${isStep ? this.#step(step, !has("stop")) : nothing}
      ${has("stop") ? this.#stop(!isStep) : nothing}
    `;
  }

  /** @param {Called} called */
  #alarm({ level, words, keys }) {
    const [place, what] = placeAndWhat(words);
    const isOpen = keys.length > 0;
    const acknowledge = () => keys.forEach((key) => this.dispatchEvent(new CustomEvent("acknowledge", { detail: key })));
    return html`<p class="words ${level} ${isOpen ? "" : "alone"}" title=${words}><span class="place">${place}</span> ${what ? html`<span class="what">${what}</span>` : nothing}</p>
      ${isOpen ? html`<button type="button" class="answer acknowledge" @click=${acknowledge} aria-label="Acknowledge, pinned: ${words}">Acknowledge</button>` : nothing}`;
  }

  /** @param {import("../live/steps.js").Step} step @param {boolean} alone */
  #step({ text, kind, from_s, due_s, done, tapped }, alone) {
    const { left_s } = taskTime({ kind, from_s, due_s }, this.now_s);
    const say = () => this.dispatchEvent(new CustomEvent("tap", { detail: done }));
    const when = this.lost ? `by ${clockText(this.clock, due_s, true)}` : countdown(left_s);
    const [place, what] = placeAndWhat(text);
    return html`<button type="button" class="step ${alone ? "alone" : ""}" aria-disabled=${tapped !== null} @click=${tapped ? nothing : say} title=${text}>
      <span class="todo ${tapped ? "waits" : ""}"><span class="place">${place}</span> <span class="what">${what}</span></span> <b>${tapped ? "said" : when}</b>
    </button>`;
  }

  /** @param {boolean} alone */
  #stop(alone) {
    const say = () => this.dispatchEvent(new CustomEvent("tap", { detail: { kind: "chain_stop" } }));
    return html`<button type="button" class="answer stop ${alone ? "alone" : ""}" @click=${say}>All motors stopped</button>`;
  }
}

customElements.define("pinned-bar", PinnedBar);
