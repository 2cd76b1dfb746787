// @ts-check
// The sheets of a plan: opened in the browser and printed there; and the threading list, to be ticked off on a tablet.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { sheetAddress, threadingAddress } from "./address.js";
import { whenInWords } from "./words.js";
import { peopleInWords } from "../threading/progress.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").SheetList | string | null} Sheets why there are none, in words; null until that is known */

const CREWS = Array.from({ length: 12 }, (_, place) => place + 1); // chosen: more do not run one chain

export class PlanSheets extends LitElement {
  /** @override */
  static properties = {
    sheets: { attribute: false },
    crew: { attribute: false },
    saved: { attribute: false },
    changed: { attribute: false },
    timezone: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .links {
        border-top: 1px solid var(--rule);
        margin-top: 0.6rem;
      }
      .links li {
        border-bottom: 1px solid var(--rule);
      }
      .links a {
        display: flex;
        flex-wrap: wrap;
        align-items: baseline;
        align-content: center;
        gap: 0 0.8rem;
        min-height: 3rem;
        padding: 0.4rem 0.2rem;
        text-decoration: none;
        overflow-wrap: anywhere;
      }
      .links a:hover {
        background: var(--surface);
      }
      .links strong {
        text-decoration: underline;
        text-underline-offset: 0.2em;
      }
      .links span {
        color: var(--ink-2);
      }
      .crew {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 0.8rem;
        margin-top: 0.6rem;
      }
      .notice {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
        margin: 0.6rem 0;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Sheets} */
    this.sheets = null;
    /** How many people there are; null where nobody said. @type {number | null} */
    this.crew = null;
    /** Whether the plan was ever saved. */
    this.saved = false;
    /** Whether what is on the screen is not what is saved. */
    this.changed = false;
    this.timezone = "UTC";
  }

  /** @override */
  render() {
    return html`<section aria-labelledby="sheets">
        <h2 id="sheets">Sheets to print</h2>
        ${this.#sheets()}
      </section>
      ${this.#threading()}`;
  }

  #sheets() {
    const { sheets } = this;
    if (!this.saved) return html`<p class="said">Sheets are made of what is saved: save this plan, and they are here.</p>`;
    if (sheets === null) return html`<p class="said" role="status">Waiting for the server</p>`;
    if (typeof sheets === "string") return html`<p class="notice" role="alert">${sheets}</p>`;
    const { name, saved_at, saved_by, against } = sheets;
    return html`
      ${this.changed ? html`<p class="notice" role="alert">What you changed is not on these sheets yet: save first.</p>` : nothing}
      ${against ? html`<p class="notice">This plan has what cannot work. Every sheet says so: mend it before film is laced.</p>` : nothing}
      <p class="said">Each opens in a tab of its own, and is printed from there, on A4 or on letter. They are of the plan as it was saved ${whenInWords(saved_at, this.timezone)} by ${saved_by}.</p>
      <p class="crew">
        <label for="crew">People in the crew</label>
        <select id="crew" @change=${this.#choose}>
          <option value="" ?selected=${this.crew === null}>not said</option>
          ${[...new Set([...CREWS, this.crew ?? 1])].map((people) => html`<option value=${people} ?selected=${people === this.crew}>${peopleInWords(people)}</option>`)}
        </select>
        <span class="said">${this.crew === null ? "Say how many people there are, and a sheet says who is where when." : ""}</span>
      </p>
      <ul class="links" aria-label="Sheets">
        ${sheets.sheets.map(({ name: sheet, title, about }) => html`<li><a href=${sheetAddress(name, sheet, this.crew)} target="_blank" rel="noopener"><strong>${title}</strong> <span>${about}</span></a></li>`)}
      </ul>
    `;
  }

  /** @param {Event} event */
  #choose({ target }) {
    const people = Number(/** @type {HTMLSelectElement} */ (target).value);
    this.dispatchEvent(new CustomEvent("crew", { detail: people || null, bubbles: true, composed: true }));
  }

  #threading() {
    const { sheets } = this;
    if (!this.saved || sheets === null || typeof sheets === "string") return nothing;
    return html`<section aria-labelledby="threading">
      <h2 id="threading">On a tablet</h2>
      <ul class="links">
        <li><a href=${threadingAddress(sheets.name, this.crew)}><strong>Threading list</strong> <span>the steps of the lacing to tick off, also without a connection</span></a></li>
      </ul>
    </section>`;
  }
}

customElements.define("plan-sheets", PlanSheets);
