// @ts-check
// A plan from a file: dropped anywhere on the page, or chosen.

import { LitElement, css, html } from "../../vendor/lit.js";
import { FileDrop } from "../pages/filedrop.js";
import { fileChoice } from "../elements/file-choice.js";
import { shared } from "../elements/shared.js";

export class PlanDrop extends LitElement {
  /** @override */
  static properties = { label: { type: String }, over: { type: Boolean, reflect: true } };

  /** @override */
  static styles = [
    shared,
    fileChoice,
    css`
      :host {
        display: inline-block;
      }
      :host([over]) .choose {
        border: 2px dashed var(--ink);
        background: var(--lit);
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
    return html`<label class="choose">${this.label}<input type="file" accept=".toml" @change=${this.drop.chosen} /></label>`;
  }
}

customElements.define("plan-drop", PlanDrop);
