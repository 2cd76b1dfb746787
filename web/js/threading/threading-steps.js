// @ts-check
// The steps of the lacing in their order, each a row to touch; what is to be done now stands out.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { timeText } from "../plan/times.js";
import { clockOf, minutesInWords, peopleInWords, secondsAt } from "./progress.js";
import { shared } from "../elements/shared.js";
import { tickInk, tickRow } from "./tick-ink.js";

/** @typedef {import("../wire.js").ThreadingStep} ThreadingStep */

export class ThreadingSteps extends LitElement {
  /** @override */
  static properties = { kept: { attribute: false }, next: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    tickInk,
    css`
      ol {
        display: grid;
        gap: 0.5rem;
      }
      li {
        scroll-margin: var(--above, 12rem) 0 2rem;
      }
      .line {
        display: flex;
        flex-wrap: wrap;
        align-items: baseline;
        gap: 0 0.7rem;
      }
      .where {
        font-size: 1.3rem;
        line-height: 1.2;
        font-weight: 700;
      }
      .number {
        color: var(--ink-2);
        font-weight: 400;
      }
      .now {
        border-radius: 0.3rem;
        text-align: center;
        font-size: 0.85rem;
        background: var(--ink);
        color: var(--ground);
        font-weight: 700;
      }
      .from {
        margin-left: auto;
        min-width: 5.6rem;
        text-align: right;
      }
      .what {
        display: block;
        font-size: 1.1rem;
        line-height: 1.25;
      }
      .who,
      .caution {
        display: block;
        font-size: 0.95rem;
        line-height: 1.3;
        color: var(--ink-2);
      }
      .caution {
        border-left: 4px solid var(--watch);
        padding-left: 0.5rem;
        margin-top: 0.3rem;
        color: var(--ink);
      }
      .next {
        border-color: var(--ink);
        background: var(--lit);
        box-shadow: inset 0.4rem 0 0 var(--ink);
      }
      .next input {
        border-color: var(--ink);
      }
      .done .number,
      .done .who,
      .done .caution {
        color: var(--ink-3);
      }
      .done .caution {
        border-left-color: var(--rule);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./keeping.js").KeptList | null} */
    this.kept = null;
    /** The keys of the steps that are done now. @type {string[]} */
    this.next = [];
  }

  /** The row of the first step that is not done; null where all are. */
  get nextRow() {
    return this.renderRoot.querySelector("li.first");
  }

  /** @override */
  render() {
    const { kept } = this;
    if (!kept) return nothing;
    const first = kept.list.steps.find(({ key }) => !(key in kept.ticks))?.key;
    return html`<ol aria-label="Steps of the lacing">
      ${repeat(
        kept.list.steps,
        ({ key }) => key,
        (step) => html`<li class=${step.key === first ? "first" : ""}>${this.#step(kept, step)}</li>`,
      )}
    </ol>`;
  }

  /** @param {import("./keeping.js").KeptList} kept @param {ThreadingStep} step */
  #step({ list, ticks, changed }, step) {
    const { key, number, where, what, caution } = step;
    const done_ms = ticks[key];
    const row = {
      key,
      done: done_ms !== undefined,
      changed: changed.includes(key),
      now: this.next.includes(key),
      tell: (/** @type {string} */ ticked) => this.#tell(ticked),
    };
    return tickRow(
      row,
      html`<span class="line"
          ><span class="where"><span class="number">${number}.</span> ${where}${this.next.includes(key) ? html`<span class="unseen">(now)</span>` : nothing}</span>
          <span class="from">${this.#when(list, step, done_ms)}</span></span
        >
        <span class="what">${what}</span>
        <span class="who">${peopleInWords(step.people)}, ${minutesInWords(step.minutes)}</span>
        ${caution ? html`<span class="caution">${caution}</span>` : nothing}`,
    );
  }

  /** @param {import("../wire.js").ThreadingList} list @param {ThreadingStep} step @param {number | undefined} done_ms */
  #when(list, { begins_s }, done_ms) {
    const clock = clockOf(list);
    return done_ms === undefined ? `from ${timeText(clock, begins_s)}` : `done ${timeText(clock, secondsAt(list, done_ms))}`;
  }

  /** @param {string} key */
  #tell(key) {
    this.dispatchEvent(new CustomEvent("tick", { detail: key }));
  }
}

customElements.define("threading-steps", ThreadingSteps);
