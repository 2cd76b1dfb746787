// @ts-check
// Chooses the station that the taps are about, or the whole chain.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { levelBySubject } from "../live/alarms.js";
import { shared } from "../elements/shared.js";

const LONG = 4; // letters of a name that stand at full size: chosen
const LONGER = 20; // letters of one that wants a wider button: chosen

export class StationPicker extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    chosen: { attribute: false },
    shown: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      div {
        display: grid;
        grid-template-columns: repeat(auto-fill, minmax(min(100%, 7.2rem), 1fr));
        gap: 0.4rem;
      }
      .longest {
        grid-template-columns: repeat(auto-fill, minmax(min(100%, 12rem), 1fr));
      }
      @media (max-width: 299px) {
        div:not(.longest) {
          grid-template-columns: repeat(2, minmax(0, 1fr));
        }
      }
      button {
        display: flex;
        flex-wrap: wrap;
        align-items: baseline;
        align-content: center;
        gap: 0 0.4rem;
        text-align: start;
        padding: 0.3rem 0.6rem;
        min-width: 0;
        border-color: var(--rule);
        background: none;
      }
      b {
        font-size: 1.5rem;
        line-height: 1.2;
        min-width: 0;
        overflow-wrap: anywhere;
      }
      b.long {
        font-size: 1.05rem;
      }
      small {
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      button[aria-pressed="true"] {
        border-color: var(--ink);
        background: var(--lit);
        font-weight: 700;
      }
      button[aria-pressed="true"] small {
        color: inherit;
      }
      .level {
        font-weight: 700;
        text-decoration: underline;
        text-underline-offset: 0.2em;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** The stations to choose from. @type {string[]} */
    this.shown = [];
    /** The station's id; null for the whole chain. @type {string | null} */
    this.chosen = null;
  }

  /** @override */
  render() {
    const { state } = this;
    if (!state) return nothing;
    const levels = levelBySubject(state.alarms);
    const isLong = state.info.stations.some(({ house }) => house.length > LONGER);
    return html`<div class=${isLong ? "longest" : ""} role="group" aria-label="What the taps are about">
      ${this.#button(null, "All", "the chain", levels.get("chain"))}
      ${state.info.stations.map(({ id, house }, place) =>
        this.shown.includes(id) ? this.#button(id, house, state.stations[place]?.phase ?? "", levels.get(id)) : nothing,
      )}
    </div>`;
  }

  /** @param {string | null} id @param {string} name @param {string} phase @param {import("../wire.js").Alarm["level"] | undefined} level */
  #button(id, name, phase, level) {
    const choose = () => this.dispatchEvent(new CustomEvent("choose", { detail: id }));
    return html`<button type="button" aria-pressed=${this.chosen === id} @click=${choose}>
      <b class=${name.length > LONG ? "long" : ""}>${id === null ? nothing : html`<span class="unseen">House </span>`}${name}</b>
      <small>${phase}</small>
      ${level === "act" || level === "watch" ? html`<small class="level">${level}</small>` : nothing}
    </button>`;
  }
}

customElements.define("station-picker", StationPicker);
