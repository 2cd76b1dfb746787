// @ts-check
// What is drawn, as a table that can be opened and closed: over the drawing where its desk has no room beside it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { shared } from "./shared.js";

export class TableSheet extends LitElement {
  /** @override */
  static properties = { name: { attribute: false }, table: { attribute: false }, open: { state: true } };

  /** @override */
  static styles = [
    shared,
    css`
      .sheet {
        position: var(--sheet, static);
        inset: 0 0 3rem;
        z-index: 2;
        overflow: auto;
        background: var(--surface);
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.5rem 1rem;
      }
      .close {
        position: sticky;
        top: 0;
        left: 100%;
        float: right;
      }
    `,
  ];

  constructor() {
    super();
    /** What it is called. */
    this.name = "";
    /** Makes the table, while it is open. @type {() => unknown} */
    this.table = () => nothing;
    this.open = false;
  }

  /** @override */
  render() {
    const toggled = (/** @type {Event} */ { target }) => (this.open = /** @type {HTMLDetailsElement} */ (target).open);
    const escaped = (/** @type {KeyboardEvent} */ { key }) => key === "Escape" && this.#close();
    return html`<details .open=${this.open} @toggle=${toggled} @keydown=${escaped}>
      <summary>${this.name}</summary>
      ${
        this.open
          ? html`<div class="sheet" tabindex="0" role="region" aria-label=${this.name}>
              <button type="button" class="close" aria-label="Close: ${this.name}" @click=${() => this.#close()}>Close</button>
              ${this.table()}
            </div>`
          : nothing
      }
    </details>`;
  }

  #close() {
    this.open = false;
    this.renderRoot.querySelector("summary")?.focus();
  }
}

customElements.define("table-sheet", TableSheet);
