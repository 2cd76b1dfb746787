// @ts-check
// The moments of a run as a list that is searched: choose one, and the run is looked at there.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { clockText, plural } from "../format.js";
import { found, latestAt } from "../moments.js";
import { shared } from "./shared.js";

/** @typedef {import("../moments.js").Moment} Moment */

const LEVEL_WORDS = { act: "Act now", watch: "Watch", note: "Note" };

export class MomentList extends LitElement {
  /** @override */
  static properties = {
    moments: { attribute: false },
    clock: { attribute: false },
    at_s: { attribute: false },
    asked: { state: true },
    only: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-direction: column;
        min-height: 0;
      }
      .find {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
        align-items: end;
      }
      .find label {
        flex: 1 1 9rem;
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      .find label.only {
        flex: 0 0 auto;
      }
      .find input {
        width: 100%;
      }
      .count {
        font-size: 0.9rem;
        color: var(--ink-2);
        padding: 0.3rem 0;
      }
      ol {
        flex: 1 1 auto;
        overflow-y: auto;
        min-height: 9rem;
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
      .here button {
        background: var(--lit);
        border-left-color: var(--ink);
      }
      .later button {
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

  constructor() {
    super();
    /** @type {Moment[]} */
    this.moments = [];
    /** @type {import("../format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.at_s = 0;
    this.asked = "";
    this.only = "all";
  }

  /** The moments that are asked for. */
  #shown() {
    const kinds = this.moments.filter(({ is }) => this.only === "all" || is === this.only);
    return found(kinds, this.asked, (at_s) => clockText(this.clock, at_s, true));
  }

  /** @override @param {Map<string, unknown>} changed */
  updated(changed) {
    if (changed.has("at_s") || changed.has("moments")) this.#bringHere();
  }

  /** Scrolls the list, and nothing but the list, to the moment that is looked at. */
  #bringHere() {
    const list = this.renderRoot.querySelector("ol");
    const here = /** @type {HTMLElement | null} */ (this.renderRoot.querySelector(".here"));
    if (!list || !here || list.matches(":focus-within")) return;
    const top = here.offsetTop - list.offsetTop;
    if (top < list.scrollTop || top + here.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top - list.clientHeight / 3;
  }

  /** @override */
  render() {
    const shown = this.#shown();
    const here = latestAt(shown, this.at_s);
    return html`
      <div class="find">
        <label
          >Find the moment
          <input type="search" placeholder="a house, a mark, an alarm, a time" .value=${this.asked} @input=${this.#ask} @keydown=${this.#first} />
        </label>
        <label class="only"
          >Show
          <select @change=${(/** @type {Event} */ { target }) => (this.only = /** @type {HTMLSelectElement} */ (target).value)}>
            <option value="all">all</option>
            <option value="alarm">alarms</option>
            <option value="event">events</option>
          </select>
        </label>
      </div>
      <p class="count" role="status">${this.asked.trim() ? `${shown.length} ${plural(shown.length, "moment")} found` : `${shown.length} ${plural(shown.length, "moment")}`}</p>
      <ol aria-label="Moments of the run">
        ${repeat(shown, ({ id }) => id, (moment, place) => this.#moment(moment, place, here))}
      </ol>
    `;
  }

  /** @param {Moment} moment @param {number} place @param {number} here */
  #moment(moment, place, here) {
    const where = place === here ? "here" : place > here ? "later" : "";
    return html`<li class="${where} ${moment.undone ? "undone" : ""}">
      <button type="button" aria-current=${place === here ? "true" : nothing} @click=${() => this.#go(moment)}>
        <time>${clockText(this.clock, moment.at_s, true)}</time>
        <span class="text">${moment.level ? html`<span class="level ${moment.level}">${LEVEL_WORDS[moment.level]}</span>` : nothing}${moment.text}</span>
        ${moment.more ? html`<span class="more">${moment.more}</span>` : nothing}
      </button>
    </li>`;
  }

  /** @param {Event} event */
  #ask({ target }) {
    this.asked = /** @type {HTMLInputElement} */ (target).value;
  }

  /** Enter goes to the first that is found. @param {KeyboardEvent} event */
  #first({ key }) {
    const [first] = this.#shown();
    if (key === "Enter" && first) this.#go(first);
  }

  /** @param {Moment} moment */
  #go({ at_s }) {
    this.dispatchEvent(new CustomEvent("seek", { detail: at_s, bubbles: true, composed: true }));
  }
}

customElements.define("moment-list", MomentList);
