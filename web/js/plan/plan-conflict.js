// @ts-check
// Somebody else has saved the plan meanwhile: what differs, and what is to become of both.

import { LitElement, css, html } from "../../vendor/lit.js";
import { whenInWords } from "./words.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").SaveConflict & {changes: string[]}} Conflict `changes` lead from theirs to what is on the screen */

export class PlanConflict extends LitElement {
  /** @override */
  static properties = { conflict: { attribute: false }, timezone: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      section {
        border: 3px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
        margin: 0.6rem 0;
      }
      h2 {
        font-size: 1.15rem;
      }
      ul {
        list-style: disc;
        padding-left: 1.2rem;
      }
      p {
        padding: 0.3rem 0;
      }
      .buttons {
        display: flex;
        flex-wrap: wrap;
        gap: 0.5rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Conflict | null} */
    this.conflict = null;
    this.timezone = "UTC";
  }

  /** @override */
  render() {
    const { conflict } = this;
    if (!conflict) return html``;
    const { saved_at, saved_by, changes } = conflict;
    return html`<section role="alert" aria-labelledby="meanwhile">
      <h2 id="meanwhile">This plan was saved meanwhile by ${saved_by}, ${whenInWords(saved_at, this.timezone)}</h2>
      <p>Yours is not saved, and nothing of it is lost. It differs from theirs in this:</p>
      <ul>
        ${changes.map((change) => html`<li>${change}</li>`)}
      </ul>
      <p>Whatever you choose, theirs stays among the versions.</p>
      <div class="buttons">
        <button type="button" @click=${() => this.#choose("mine")}>Save mine over theirs</button>
        <button type="button" @click=${() => this.#choose("another")}>Save mine as another plan</button>
        <button type="button" @click=${() => this.#choose("theirs")}>Take theirs, undo brings mine back</button>
      </div>
    </section>`;
  }

  /** @param {"mine" | "theirs" | "another"} which */
  #choose(which) {
    this.dispatchEvent(new CustomEvent("choose", { detail: which, bubbles: true, composed: true }));
  }
}

customElements.define("plan-conflict", PlanConflict);
