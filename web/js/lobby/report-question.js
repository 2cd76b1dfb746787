// @ts-check
// Asks what is wrong in a house that was touched: one more touch says it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { TEXT_LENGTH, TROUBLE_TOUCHES, reportFrom } from "./reports.js";
import { shared } from "../elements/shared.js";

export class ReportQuestion extends LitElement {
  /** @override */
  static properties = { house: { attribute: false }, station: { attribute: false }, film: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      dialog {
        width: min(34rem, 100vw - 1rem);
        max-width: none;
        max-height: 100vh;
        padding: 0.9rem 1rem 1rem;
        border: 3px solid var(--ink);
        border-radius: 0.5rem;
        background: var(--ground);
        color: var(--ink);
      }
      dialog::backdrop {
        background: rgba(0, 0, 0, 0.6);
      }
      h2 {
        font-size: 1.5rem;
        line-height: 1.15;
      }
      h2 small {
        display: block;
        font-size: 1rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      label {
        display: grid;
        gap: 0.2rem;
        margin: 0.6rem 0;
        color: var(--ink-2);
      }
      input {
        width: 100%;
        color: var(--ink);
      }
      .troubles {
        display: grid;
        grid-template-columns: repeat(2, minmax(0, 1fr));
        gap: 0.5rem;
        margin-bottom: 0.9rem;
      }
      .troubles button {
        min-height: 3.6rem;
        font-size: 1.15rem;
        line-height: 1.15;
        font-weight: 700;
      }
    `,
  ];

  constructor() {
    super();
    /** The number of the house that was touched, or empty. */
    this.house = "";
    this.station = "";
    /** The film, where there are several. */
    this.film = "";
  }

  /** @override @param {Map<string, unknown>} changed */
  updated(changed) {
    const dialog = this.renderRoot.querySelector("dialog");
    if (changed.has("station") && dialog && !dialog.open) dialog.showModal();
  }

  /** @override */
  render() {
    if (!this.station) return nothing;
    return html`<dialog aria-labelledby="title" @cancel=${this.#cancel}>
      <h2 id="title">House ${this.house}: what is wrong? ${this.film ? html`<small>${this.film}</small>` : nothing}</h2>
      <label>A few words first, if they help <input name="text" maxlength=${TEXT_LENGTH} autocomplete="off" enterkeyhint="done" @keydown=${this.#typed} /></label>
      <div class="troubles" role="group" aria-label="What is wrong">
        ${TROUBLE_TOUCHES.map(({ what, label }, place) => html`<button type="button" ?autofocus=${place === 0} @click=${() => this.#say(what)}>${label}</button>`)}
      </div>
      <button type="button" @click=${this.#close}>Nothing to report</button>
    </dialog>`;
  }

  /** The keyboard of a phone goes away; what is wrong is still to be touched. @param {KeyboardEvent} event */
  #typed(event) {
    if (event.key !== "Enter") return;
    event.preventDefault();
    /** @type {HTMLElement | null} */ (this.renderRoot.querySelector(".troubles button"))?.focus();
  }

  /** @param {import("../wire.js").HouseReport["what"]} what */
  #say(what) {
    const text = this.renderRoot.querySelector("input")?.value ?? "";
    this.dispatchEvent(new CustomEvent("say", { detail: reportFrom(this.station, what, text) }));
    this.#close();
  }

  /** @param {Event} event Escape, or the back of a phone */
  #cancel(event) {
    event.preventDefault();
    this.#close();
  }

  /** Closed before it is gone: only so is the focus where it was before. */
  #close() {
    this.renderRoot.querySelector("dialog")?.close();
    this.dispatchEvent(new CustomEvent("leave"));
  }
}

customElements.define("report-question", ReportQuestion);
