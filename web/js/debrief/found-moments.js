// @ts-check
// The moments that were found: choose one, and the run is looked at there. The one that is looked at is marked.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { LEVEL_WORDS } from "../live/alarms.js";
import { clockText } from "../words/format.js";
import { latestAt } from "./moments.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./moments.js").Moment} Moment */

export class FoundMoments extends LitElement {
  /** @override */
  static properties = { moments: { attribute: false }, clock: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        contain: content;
        overflow-y: auto;
        border-top: 1px solid var(--rule);
      }
      li {
        border-bottom: 1px solid var(--rule);
      }
      button {
        display: grid;
        grid-template-columns: 5.6rem minmax(0, 1fr);
        gap: 0 0.6rem;
        width: 100%;
        border: 0;
        border-left: 4px solid transparent;
        border-radius: 0;
        background: none;
        text-align: start;
        padding: 0.4rem 0.5rem;
        line-height: 1.25;
      }
      button:hover {
        background: var(--surface);
      }
      li[here] button {
        background: var(--lit);
        border-left-color: var(--ink);
      }
      li[here] ~ li button {
        color: var(--ink-2);
      }
      .more {
        grid-column: 2;
        color: var(--ink-2);
        font-size: 0.85rem;
      }
      .undone .text {
        text-decoration: line-through;
      }
      .level {
        font-weight: 700;
        padding: 0 0.35rem;
        margin-right: 0.3rem;
        border-radius: 0.2rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
      }
      .watch {
        border: 2px solid var(--watch);
      }
    `,
  ];

  #at_s = 0;

  constructor() {
    super();
    /** @type {Moment[]} */
    this.moments = [];
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    /** @type {number | undefined} */
    this.later = undefined;
  }

  /** The moment that is looked at. Another one moves the mark and makes nothing else again: the list is as long as the run. */
  get at_s() {
    return this.#at_s;
  }

  set at_s(at_s) {
    this.#at_s = at_s;
    this.#mark();
  }

  /** @override */
  updated() {
    this.#mark();
  }

  #mark() {
    const before = this.renderRoot?.querySelector("li[here]");
    const here = /** @type {HTMLElement | undefined} */ (this.renderRoot?.querySelector("ol")?.children[latestAt(this.moments, this.#at_s)]);
    if (before === here) return;
    for (const [line, on] of /** @type {[Element | null | undefined, boolean][]} */ ([
      [before, false],
      [here, true],
    ])) {
      line?.toggleAttribute("here", on);
      line?.querySelector("button")?.setAttribute("aria-current", String(on));
    }
    window.clearTimeout(this.later);
    this.later = window.setTimeout(() => here && this.#bring(here), 0); // after what was jumped to is drawn
  }

  /** Scrolls the list, and nothing but the list, unless somebody is in it. @param {HTMLElement} here */
  #bring(here) {
    if (this.matches(":focus-within")) return;
    const top = here.offsetTop - this.offsetTop;
    if (top < this.scrollTop || top + here.offsetHeight > this.scrollTop + this.clientHeight) this.scrollTo(0, top - this.clientHeight / 3);
  }

  /** @override */
  render() {
    return html`<ol aria-label="Moments of the run">
      ${repeat(
        this.moments,
        ({ id }) => id,
        (moment) => this.#moment(moment),
      )}
    </ol>`;
  }

  /** @param {Moment} moment */
  #moment({ at_s, level, text, more, undone }) {
    const go = () => this.dispatchEvent(new CustomEvent("seek", { detail: at_s, bubbles: true, composed: true }));
    return html`<li class=${undone ? "undone" : ""}>
      <button type="button" @click=${go}>
        <time>${clockText(this.clock, at_s, true, true)}</time>
        <span class="text">${level ? html`<span class="level ${level}">${LEVEL_WORDS[level]}</span>` : nothing}${text}</span>
        ${more ? html`<span class="more">${more}</span>` : nothing}
      </button>
    </li>`;
  }
}

customElements.define("found-moments", FoundMoments);
