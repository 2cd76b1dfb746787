// @ts-check
// A word to one booth, or to all: one touch for what is usual, a line for the rest. Leaves as a `tap` event.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { LONGEST_CALL, TO_ALL, USUAL_CALLS, callOf } from "./calls.js";
import { fieldOf } from "../pages/fields.js";
import { fieldForm, shared } from "../elements/shared.js";

export class CallForm extends LitElement {
  /** @override */
  static properties = { booths: { attribute: false }, to: { state: true }, opened: { state: true } };

  /** @override */
  static styles = [
    shared,
    fieldForm,
    css`
      /* The form stands under the line in which its button is, and moves nothing beside it. */
      :host {
        display: contents;
      }
      .form {
        order: 1;
        flex: 1 1 100%;
        min-width: 0;
      }
      [aria-expanded="true"] {
        background: var(--lit);
        font-weight: 700;
      }
      .to,
      .usual {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
        margin-bottom: 0.6rem;
      }
      .usual {
        display: grid;
        grid-template-columns: repeat(4, minmax(0, 1fr));
      }
      .to button {
        border-color: var(--rule);
        background: none;
      }
      .to button[aria-pressed="true"] {
        border-color: var(--ink);
        background: var(--lit);
        font-weight: 700;
      }
      .usual button {
        min-height: 3.6rem;
        font-size: 1.1rem;
        font-weight: 600;
        line-height: 1.15;
        text-align: start;
      }
      @media (max-width: 899px) {
        .usual {
          grid-template-columns: repeat(2, minmax(0, 1fr));
        }
      }
      @media (max-width: 299px) {
        .usual {
          grid-template-columns: minmax(0, 1fr);
        }
      }
    `,
  ];

  constructor() {
    super();
    /** Those that can be called by name. @type {string[]} */
    this.booths = [];
    /** A booth, or all. */
    this.to = TO_ALL;
    this.opened = false;
  }

  /** @override */
  render() {
    const toggle = () => (this.opened = !this.opened);
    return html`<button type="button" aria-expanded=${this.opened ? "true" : "false"} @click=${toggle}>Call a booth</button>
      ${this.opened ? html`<div class="form" role="group" aria-label="Call a booth">${this.#form()}</div>` : nothing}`;
  }

  #form() {
    return html`
      ${this.booths.length ? html`<div class="to" role="group" aria-label="Whom to call">${this.#whom(TO_ALL, "Every booth")} ${this.booths.map((booth) => this.#whom(booth, booth))}</div>` : nothing}
      <div class="usual" role="group" aria-label="What to say">
        ${USUAL_CALLS.map((words) => html`<button type="button" @click=${() => this.#call(words)}>${words}</button>`)}
      </div>
      <form @submit=${this.#write}>
        <label>Other words <input name="text" required maxlength=${LONGEST_CALL} autocomplete="off" /></label>
        <button>Call</button>
      </form>
    `;
  }

  /** @param {string} to @param {string} name */
  #whom(to, name) {
    return html`<button type="button" aria-pressed=${this.to === to} @click=${() => (this.to = to)}>${name}</button>`;
  }

  /** @param {SubmitEvent} event */
  #write(event) {
    const words = fieldOf(event, "text")?.value.trim();
    if (words) this.#call(words);
  }

  /** What was said is said once: the form closes. @param {string} words */
  #call(words) {
    this.dispatchEvent(new CustomEvent("tap", { detail: callOf(this.to, words) }));
    this.opened = false;
    this.to = TO_ALL;
  }
}

customElements.define("call-form", CallForm);
