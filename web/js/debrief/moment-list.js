// @ts-check
// The moments of a run as a list that is searched: choose one, and the run is looked at there.

import { LitElement, css, html } from "../../vendor/lit.js";
import { clockText, plural } from "../words/format.js";
import { found } from "./moments.js";
import { shared } from "../elements/shared.js";
import "./found-moments.js";

/** @typedef {import("./moments.js").Moment} Moment */

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
      found-moments {
        flex: 1 1 auto;
        min-height: 9rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Moment[]} */
    this.moments = [];
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.at_s = 0;
    this.asked = "";
    this.only = "all";
    /** @type {Moment[]} those that are asked for */
    this.shown = [];
  }

  #found() {
    const kinds = this.moments.filter(({ is }) => this.only === "all" || is === this.only);
    return found(kinds, this.asked, (at_s) => clockText(this.clock, at_s, true, true));
  }

  /** Only when another question was asked: the list is as long as the run. @override @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (["moments", "clock", "asked", "only"].some((name) => changed.has(name))) this.shown = this.#found();
  }

  /** @override */
  render() {
    const { shown } = this;
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
      <found-moments .moments=${shown} .clock=${this.clock} .at_s=${this.at_s}></found-moments>
    `;
  }

  /** @param {Event} event */
  #ask({ target }) {
    this.asked = /** @type {HTMLInputElement} */ (target).value;
  }

  /** Enter goes to the first that is found. @param {KeyboardEvent} event */
  #first({ key }) {
    const [first] = this.shown;
    if (key === "Enter" && first) this.dispatchEvent(new CustomEvent("seek", { detail: first.at_s, bubbles: true, composed: true }));
  }
}

customElements.define("moment-list", MomentList);
