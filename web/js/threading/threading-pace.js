// @ts-check
// How the lacing stands, always in sight: how much is done, how long the rest takes, whether it is in time, what is next.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { timeText } from "../plan/times.js";
import { checksLeft, clockOf, leftInWords, paceInWords, secondsAt } from "./progress.js";
import { shared } from "../elements/shared.js";

export class ThreadingPace extends LitElement {
  /** @override */
  static properties = { kept: { attribute: false }, progress: { attribute: false }, now_ms: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        padding: 0.4rem 0 0.6rem;
        border-bottom: 1px solid var(--rule);
        background: var(--ground);
      }
      .line {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.1rem 0.6rem;
      }
      .count {
        font-size: 1.5rem;
        line-height: 1.2;
        font-weight: 700;
      }
      .left {
        font-size: 1.1rem;
      }
      .clock {
        margin-left: auto;
        font-size: 1.3rem;
        font-weight: 700;
      }
      progress {
        -webkit-appearance: none;
        appearance: none;
        display: block;
        width: 100%;
        height: 0.6rem;
        margin: 0.3rem 0;
        border: 1px solid var(--ink-3);
        border-radius: 0.3rem;
        overflow: hidden;
        background: var(--ground);
      }
      progress::-webkit-progress-bar {
        background: var(--ground);
      }
      progress::-webkit-progress-value {
        background: var(--film-grey);
      }
      progress::-moz-progress-bar {
        background: var(--film-grey);
      }
      .pace {
        font-size: 1.1rem;
        line-height: 1.25;
      }
      .pace[data-level="late"] {
        border: 3px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.2rem 0.6rem;
        font-weight: 700;
      }
      @media (max-width: 480px) {
        .count {
          font-size: 1.25rem;
        }
      }
      .foot {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        justify-content: space-between;
        gap: 0.4rem 1rem;
      }
      .foot p {
        flex: 1 1 12rem;
      }
      .foot button {
        font-weight: 700;
        border-color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./keeping.js").KeptList | null} */
    this.kept = null;
    /** @type {import("./progress.js").Progress | null} */
    this.progress = null;
    this.now_ms = 0;
  }

  /** @override */
  render() {
    const { kept, progress, now_ms } = this;
    if (!kept || !progress) return nothing;
    const { list, ticks } = kept;
    const { done, all } = progress;
    const pace = paceInWords(list, ticks, progress, now_ms);
    const first = list.steps.find(({ key }) => !(key in ticks));
    return html`<section aria-label="How it stands">
      <div class="line">
        <span class="count" role="status">${done} of ${all} done</span>
        <span class="left">${leftInWords(progress)}</span>
        <span class="clock"><span class="unseen">Now </span>${timeText(clockOf(list), secondsAt(list, now_ms))}</span>
      </div>
      <progress max=${all} .value=${done} aria-label="Steps done"></progress>
      <div class="foot">
        <p class="pace" data-level=${pace.level}>${pace.text}</p>
        ${first ? this.#button(`Step ${first.number}`) : checksLeft(list, ticks) ? this.#button("Checks") : nothing}
      </div>
    </section>`;
  }

  /** Goes to what is next. @param {string} what */
  #button(what) {
    return html`<button type="button" aria-label=${`Show ${what.toLowerCase()}`} @click=${() => this.dispatchEvent(new CustomEvent("show"))}>${what}</button>`;
  }
}

customElements.define("threading-pace", ThreadingPace);
