// @ts-check
// A plan from a file: dropped anywhere on the page, or chosen.

import { LitElement, css, html } from "../../vendor/lit.js";
import { FileDrop } from "../filedrop.js";
import { shared } from "./shared.js";

export class PlanDrop extends LitElement {
  /** @override */
  static properties = { label: { type: String }, over: { type: Boolean, reflect: true } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: inline-block;
      }
      label {
        display: inline-flex;
        align-items: center;
        position: relative;
        min-height: 3rem;
        padding: 0.4rem 0.9rem;
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        background: var(--surface);
        cursor: pointer;
      }
      :host([over]) label {
        border: 2px dashed var(--ink);
        background: var(--lit);
      }
      label:focus-within {
        outline: 3px solid var(--focus);
        outline-offset: 2px;
      }
      input {
        position: absolute;
        inset: 0;
        opacity: 0;
        width: 100%;
        height: 100%;
        cursor: pointer;
      }
    `,
  ];

  constructor() {
    super();
    this.label = "";
    this.over = false;
    this.drop = new FileDrop(this);
  }

  /** @override */
  render() {
    return html`<label>${this.label}<input type="file" accept=".toml" @change=${this.drop.chosen} /></label>`;
  }
}

customElements.define("plan-drop", PlanDrop);
