// @ts-check
// Whose booth this desk is in: its stations and its things to do, or those of all.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";

export class BoothFilter extends LitElement {
  /** @override */
  static properties = { booths: { attribute: false }, chosen: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      div {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
      }
      button {
        border-color: var(--rule);
        background: none;
      }
      button[aria-pressed="true"] {
        border-color: var(--ink-2);
        background: var(--lit);
        font-weight: 700;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {string[]} */
    this.booths = [];
    /** Null for all. @type {string | null} */
    this.chosen = null;
  }

  /** @override */
  render() {
    if (this.booths.length === 0) return nothing;
    return html`<div role="group" aria-label="Booth">${this.#button(null, "All booths")} ${this.booths.map((booth) => this.#button(booth, booth))}</div>`;
  }

  /** @param {string | null} booth @param {string} name */
  #button(booth, name) {
    const choose = () => this.dispatchEvent(new CustomEvent("booth", { detail: booth }));
    return html`<button type="button" aria-pressed=${this.chosen === booth} @click=${choose}>${name}</button>`;
  }
}

customElements.define("booth-filter", BoothFilter);
