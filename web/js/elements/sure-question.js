// @ts-check
// A question before something is done that cannot be undone by itself: what is lost, and who does it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { dialogStyle } from "./dialog-style.js";
import { shared } from "./shared.js";

const LONGEST_NAME = 200; // what the server takes of a name

/**
 * @typedef {object} Question
 * @property {string} title
 * @property {string} text what becomes of it
 * @property {string} yes what the button that does it says
 * @property {string} no
 * @property {boolean} named whether a name is asked for
 */

export class SureQuestion extends LitElement {
  /** @override */
  static properties = { question: { attribute: false }, by: { attribute: false }, missing: { state: true } };

  /** @override */
  static styles = [
    shared,
    dialogStyle,
    css`
      p {
        padding: 0.6rem 0;
      }
      label {
        display: grid;
        font-size: 0.9rem;
        color: var(--ink-2);
        padding-bottom: 0.6rem;
      }
      .missing {
        border-left: 4px solid var(--watch);
        padding-left: 0.7rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Question | null} */
    this.question = null;
    this.by = "";
    this.missing = false;
  }

  /** @override @param {Map<string, unknown>} changed */
  updated(changed) {
    const dialog = this.renderRoot.querySelector("dialog");
    if (changed.has("question") && dialog && !dialog.open) dialog.showModal();
  }

  /** @override @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    // The same question comes anew whenever its page is drawn: what was said to it stands.
    const before = /** @type {{title: string} | null | undefined} */ (changed.get("question"));
    if (changed.has("question") && before?.title !== this.question?.title) this.missing = false;
  }

  /** @override */
  render() {
    const { question } = this;
    if (!question) return nothing;
    return html`<dialog aria-labelledby="title" @cancel=${(/** @type {Event} */ event) => this.#answer(event, false)}>
      <h2 id="title">${question.title}</h2>
      <p>${question.text}</p>
      ${question.named ? html`<label>Who does it <input autocomplete="name" maxlength=${LONGEST_NAME} .value=${this.by} @input=${this.#write} @keydown=${this.#enter} /></label>` : nothing}
      ${this.missing ? html`<p class="missing" role="alert">Say who does it: the name is kept with it.</p>` : nothing}
      <div class="buttons">
        <button type="button" @click=${(/** @type {Event} */ event) => this.#answer(event, false)}>${question.no}</button>
        <button type="button" class="yes" @click=${(/** @type {Event} */ event) => this.#answer(event, true)}>${question.yes}</button>
      </div>
    </dialog>`;
  }

  /** @param {Event} event */
  #write({ target }) {
    this.by = /** @type {HTMLInputElement} */ (target).value;
  }

  /** Who has typed a name and presses Enter has answered. @param {KeyboardEvent} event */
  #enter(event) {
    if (event.key === "Enter" && !event.isComposing) this.#answer(event, true);
  }

  /** @param {Event} event @param {boolean} yes */
  #answer(event, yes) {
    event.preventDefault();
    this.missing = yes && this.question?.named === true && this.by.trim() === "";
    if (this.missing) return;
    this.dispatchEvent(new CustomEvent("answer", { detail: { yes, by: this.by.trim() } }));
  }
}

customElements.define("sure-question", SureQuestion);
