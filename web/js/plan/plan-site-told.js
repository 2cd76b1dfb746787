// @ts-check
// What becomes of a site file that was dropped: kept, refused with its faults, or asked about.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { dialogStyle } from "../elements/dialog-style.js";
import { shared } from "../elements/shared.js";

/** @typedef {{title: string, text: string, faults: string[], yes: string, no: string}} Told `yes` is empty where nothing is asked */

export class PlanSiteTold extends LitElement {
  /** @override */
  static properties = { told: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    dialogStyle,
    css`
      dialog {
        max-width: min(44rem, 94vw);
      }
      p {
        padding: 0.6rem 0;
      }
      li {
        border-left: 4px solid var(--watch);
        padding-left: 0.6rem;
        margin-bottom: 0.5rem;
        overflow-wrap: anywhere;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Told | null} */
    this.told = null;
  }

  /** @override */
  updated() {
    const dialog = this.renderRoot.querySelector("dialog");
    if (dialog && !dialog.open) dialog.showModal();
  }

  /** @override */
  render() {
    const { told } = this;
    if (!told) return nothing;
    return html`<dialog aria-labelledby="title" @cancel=${(/** @type {Event} */ event) => this.#answer(event, false)}>
      <h2 id="title">${told.title}</h2>
      <p>${told.text}</p>
      ${told.faults.length ? html`<ul aria-label="Faults of the site file">${told.faults.map((fault) => html`<li>${fault}</li>`)}</ul>` : nothing}
      <div class="buttons">
        <button type="button" @click=${(/** @type {Event} */ event) => this.#answer(event, false)}>${told.no}</button>
        ${told.yes ? html`<button type="button" class="yes" @click=${(/** @type {Event} */ event) => this.#answer(event, true)}>${told.yes}</button>` : nothing}
      </div>
    </dialog>`;
  }

  /** @param {Event} event @param {boolean} yes */
  #answer(event, yes) {
    event.preventDefault();
    this.told = null;
    this.dispatchEvent(new CustomEvent("answer", { detail: yes }));
  }
}

customElements.define("plan-site-told", PlanSiteTold);
