// @ts-check
// Which of the two clocks a run is looked at by: what is known now, or what was known then.

import { LitElement, css, html } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").Story["clock"]} KnownClock */

export class ClockSwitch extends LitElement {
  /** @override */
  static properties = { clock: { attribute: false }, keepsArrivals: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        color: var(--ink);
      }
      fieldset {
        display: flex;
        border: 0;
        margin: 0;
        padding: 0;
      }
      label {
        display: flex;
        align-items: center;
        gap: 0.45rem;
        min-height: 3rem;
        padding: 0 0.7rem;
        border: 2px solid var(--ink-3);
        cursor: pointer;
      }
      label:first-of-type {
        border-radius: 0.4rem 0 0 0.4rem;
      }
      label + label {
        border-left: 0;
        border-radius: 0 0.4rem 0.4rem 0;
      }
      .chosen {
        background: var(--lit);
        font-weight: 700;
      }
      input {
        min-height: 0;
        min-width: 0;
        width: 1.1rem;
        height: 1.1rem;
        margin: 0;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {KnownClock} */
    this.clock = "now";
    /** Whether it is known when each event arrived. */
    this.keepsArrivals = true;
  }

  /** @override */
  render() {
    return html`<fieldset>
      <legend class="unseen">What is shown of a moment</legend>
      ${this.#choice("now", "Known now")} ${this.#choice("then", "Known then")}
    </fieldset>`;
  }

  /** @param {KnownClock} clock @param {string} name */
  #choice(clock, name) {
    const choose = () => this.dispatchEvent(new CustomEvent("clock", { detail: clock, bubbles: true, composed: true }));
    return html`<label class=${clock === this.clock ? "chosen" : ""} title=${clockInWords(clock, this.keepsArrivals)}>
      <input type="radio" name="clock" .checked=${clock === this.clock} @change=${choose} />${name}
    </label>`;
  }
}

/** What a clock means. @param {KnownClock} clock @param {boolean} keepsArrivals */
export function clockInWords(clock, keepsArrivals) {
  if (clock === "now") return "As it is known now: what was taken back never was, and what was reported late stands at its own time.";
  if (keepsArrivals) return "As the desks knew it then: only what had arrived by the moment that is shown.";
  return "As it was known then. This recording does not keep when its events arrived: each is taken to have arrived when it happened.";
}

customElements.define("clock-switch", ClockSwitch);
