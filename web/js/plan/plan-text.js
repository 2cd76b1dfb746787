// @ts-check
// The plan as the text that its file has: to be read, changed and pasted.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

export class PlanText extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false }, typed: { state: true } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      textarea {
        display: block;
        width: 100%;
        height: max(24rem, 60vh);
        margin-top: 0.6rem;
        font-family: "Noto Sans Mono", "Liberation Mono", Consolas, monospace;
        font-size: 0.9rem;
        line-height: 1.4;
        tab-size: 2;
        white-space: pre;
        overflow: auto;
        resize: vertical;
      }
      .faults {
        display: grid;
        gap: 0.3rem;
        margin-top: 0.5rem;
      }
      .faults li {
        display: flex;
        gap: 0.6rem;
        align-items: center;
        justify-content: space-between;
      }
      .faults button {
        flex: 0 0 auto;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** What was typed and may not have been read yet. @type {string | null} */
    this.typed = null;
    this.revision = -1;
  }

  /** @override */
  willUpdate() {
    if (this.plan && this.plan.revision !== this.revision) this.typed = null;
    this.revision = this.plan?.revision ?? -1;
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan) return nothing;
    const { faults } = plan.checked;
    return html`<section aria-labelledby="text">
      <h2 id="text">The text of the plan</h2>
      <p class="said">This is the file itself. Change it here or in an editor, or paste another: comments and order stay as they are.</p>
      ${
        faults.length
          ? html`<ul class="faults" aria-label="What is wrong in the text">
              ${faults.map(
                ({ line, about, text }) =>
                  html`<li class="fault">
                    <span>${line && about !== `Line ${line}` ? `Line ${line}: ` : ""}${about ? `${about}: ` : ""}${text}</span>
                    ${line ? html`<button type="button" aria-label="Go to line ${line}" @click=${() => this.goTo(line)}>Go to it</button>` : nothing}
                  </li>`,
              )}
            </ul>`
          : nothing
      }
      <textarea aria-label="Text of the plan" spellcheck="false" autocapitalize="off" ?readonly=${plan.locked && plan.checked.values !== null} @input=${this.#type} @blur=${this.#leave}></textarea>
    </section>`;
  }

  /** @override */
  updated() {
    const area = this.renderRoot.querySelector("textarea");
    const text = this.typed ?? this.plan?.checked.text ?? "";
    if (area && area.value !== text) area.value = text;
  }

  /** Shows a line, marked. @param {number} line from 1 */
  goTo(line) {
    const area = this.renderRoot.querySelector("textarea");
    if (!area) return;
    const lines = area.value.split("\n");
    const start = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
    area.focus();
    area.setSelectionRange(start, start + (lines[line - 1]?.length ?? 0));
    const height = area.scrollHeight / Math.max(lines.length, 1);
    area.scrollTop = Math.max(0, (line - 1) * height - area.clientHeight / 3);
  }

  /** @param {Event} event */
  #type({ target }) {
    this.typed = /** @type {HTMLTextAreaElement} */ (target).value;
    this.dispatchEvent(new CustomEvent("write", { detail: this.typed, bubbles: true, composed: true }));
  }

  #leave() {
    this.dispatchEvent(new CustomEvent("rest", { bubbles: true, composed: true }));
  }
}

customElements.define("plan-text", PlanText);
