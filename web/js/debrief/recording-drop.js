// @ts-check
// A recording from anywhere is opened here: dropped, or chosen.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { FileDrop } from "../pages/filedrop.js";
import { fileChoice } from "../elements/file-choice.js";
import { shared } from "../elements/shared.js";

export class RecordingDrop extends LitElement {
  /** @override */
  static properties = { trouble: { attribute: false }, over: { type: Boolean, reflect: true } };

  /** @override */
  static styles = [
    shared,
    fileChoice,
    css`
      :host {
        display: block;
        border: 2px dashed var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.8rem 1rem;
      }
      :host([over]) {
        border: 2px solid var(--ink);
        background: var(--lit);
      }
      .row {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem 1rem;
        align-items: center;
        justify-content: space-between;
      }
      .row p {
        color: var(--ink-2);
        flex: 1 1 24rem;
      }
      h2 {
        font-size: 1.15rem;
        line-height: 1.2;
        color: var(--ink);
      }
      .trouble {
        margin-top: 0.6rem;
        border-left: 4px solid var(--watch);
        padding-left: 0.7rem;
      }
    `,
  ];

  constructor() {
    super();
    this.trouble = "";
    this.over = false;
    this.drop = new FileDrop(this);
  }

  /** @override */
  render() {
    return html`
      <div class="row">
        <div>
          <h2>Open a recording</h2>
          <p>Drop it anywhere on this page. One that is not from Festoon's own debrief needs its plan beside it: drop both.</p>
        </div>
        <label class="choose"
          >Choose files
          <input type="file" multiple accept=".jsonl,.json,.toml" @change=${this.drop.chosen} />
        </label>
      </div>
      ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : nothing}
    `;
  }
}

customElements.define("recording-drop", RecordingDrop);
