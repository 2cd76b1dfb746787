// @ts-check
// What was saved of a plan, when and by whom, and what became another each time.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { whenInWords } from "./words.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").PlanVersion} PlanVersion */

export class PlanVersions extends LitElement {
  /** @override */
  static properties = {
    plan: { attribute: false },
    versions: { attribute: false },
    changes: { attribute: false },
    compared: { attribute: false },
    timezone: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .entry h3 {
        font-size: 1.05rem;
      }
      .changes {
        list-style: disc;
        padding-left: 1.2rem;
      }
      .buttons {
        margin-top: 0.4rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** The latest first; null until they are known. @type {PlanVersion[] | null} */
    this.versions = null;
    /** What differs on the screen from what is saved. @type {string[]} */
    this.changes = [];
    /** What differs on the screen from one version. @type {{number: number, changes: string[]} | null} */
    this.compared = null;
    this.timezone = "UTC";
  }

  /** @override */
  render() {
    return html`
      ${
        this.changes.length
          ? html`<section aria-labelledby="unsaved">
              <h2 id="unsaved">Changed since it was saved</h2>
              ${list(this.changes)}
            </section>`
          : nothing
      }
      <section aria-labelledby="versions">
        <h2 id="versions">Versions</h2>
        ${this.#versions()}
      </section>
    `;
  }

  #versions() {
    if (this.versions === null) return html`<p class="said" role="status">Waiting for the server</p>`;
    if (this.versions.length === 0) {
      return html`<p class="said">Nothing is saved yet. Every version that you save is kept here, with its time and who saved it.</p>`;
    }
    return html`<p class="said">Every saved version is kept. One that is brought back can be changed and undone like anything else, and counts once it is saved.</p>
      <ol class="entries" aria-label="Versions, the latest first">
        ${this.versions.map((version) => this.#version(version))}
      </ol>`;
  }

  /** @param {PlanVersion} version */
  #version({ number, saved_at, saved_by, text, changes }) {
    const { compared, plan } = this;
    const same = plan?.checked.text === text;
    return html`<li class="entry" aria-label="Version ${number}">
      <h3>Version ${number}, ${whenInWords(saved_at, this.timezone)}, by ${saved_by}</h3>
      ${number === 1 ? html`<p class="said">The first.</p>` : list(changes)}
      ${compared?.number === number ? html`<p class="said">From it to what is on the screen:</p>${compared.changes.length ? list(compared.changes) : html`<p>Nothing is another.</p>`}` : nothing}
      <div class="buttons">
        ${same ? html`<span class="check">This is on the screen.</span>` : nothing}
        ${same || plan?.locked ? nothing : html`<button type="button" aria-label="Compare version ${number} with the screen" @click=${() => this.#tell("compare", { number, text })}>Compare with the screen</button>`}
        ${same || plan?.locked ? nothing : html`<button type="button" aria-label="Bring version ${number} back" @click=${() => this.#tell("restore", text)}>Bring it back</button>`}
      </div>
    </li>`;
  }

  /** @param {string} name @param {unknown} detail */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail, bubbles: true, composed: true }));
  }
}

/** @param {string[]} changes */
function list(changes) {
  return html`<ul class="changes">
    ${changes.map((change) => html`<li>${change}</li>`)}
  </ul>`;
}

customElements.define("plan-versions", PlanVersions);
