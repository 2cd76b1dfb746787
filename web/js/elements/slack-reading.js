// @ts-check
// How a link is read: over or under in parts of its reserve, at rest, or in any number of seconds. Leaves as a `tap` event.

import { LitElement, css, html } from "../../vendor/lit.js";
import { fieldOf } from "../pages/fields.js";
import { slackInWords } from "../words/format.js";
import { fieldForm, shared } from "./shared.js";

const STEPS = [0.25, 0.5, 0.75, 1]; // of the reserve: chosen

export class SlackReading extends LitElement {
  /** @override */
  static properties = { station: { attribute: false }, reserve_s: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    fieldForm,
    css`
      :host {
        display: block;
      }
      .slack {
        display: grid;
        grid-template-columns: auto repeat(4, minmax(0, 1fr));
        align-items: center;
        gap: 0.4rem;
      }
      .slack button {
        min-height: 3.6rem;
        padding: 0.3rem;
        font-size: 1.15rem;
        font-weight: 600;
        line-height: 1.15;
      }
      .slack .rest {
        grid-column: 2 / -1;
      }
    `,
  ];

  constructor() {
    super();
    /** The station that the link feeds. */
    this.station = "";
    this.reserve_s = 0;
  }

  /** @override */
  render() {
    return html`
      <div class="slack">
        <span>over</span>${STEPS.map((share) => this.#reading(share * this.reserve_s))}
        <span>under</span>${STEPS.map((share) => this.#reading(-share * this.reserve_s))}
        <span></span><button type="button" class="rest" @click=${() => this.#read(0)}>at rest</button>
      </div>
      <form @submit=${this.#readNumber}>
        <label>Another number of seconds <input name="seconds" type="number" min="0" step="0.1" inputmode="decimal" required /></label>
        <button value="1">Over, loose</button>
        <button value="-1">Under, tight</button>
      </form>
    `;
  }

  /** @param {number} seconds */
  #reading(seconds) {
    return html`<button type="button" @click=${() => this.#read(seconds)} aria-label="Read ${slackInWords(seconds)}">
      ${Number(Math.abs(seconds).toFixed(2))} s
    </button>`;
  }

  /** @param {number} seconds */
  #read(seconds) {
    this.dispatchEvent(new CustomEvent("tap", { detail: { kind: "slack_read", station: this.station, seconds } }));
  }

  /** @param {SubmitEvent} event */
  #readNumber(event) {
    const field = fieldOf(event, "seconds");
    const side = event.submitter instanceof HTMLButtonElement && event.submitter.value === "-1" ? -1 : 1;
    if (field) this.#read(side * field.valueAsNumber);
    if (field) field.value = "";
  }
}

customElements.define("slack-reading", SlackReading);
