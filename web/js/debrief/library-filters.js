// @ts-check
// What the library is asked for: days, plan, house, trouble, words.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { ALARM_NAMES } from "../words/kinds.js";
import { ALL, isNarrowed } from "./library.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./library.js").Asked} Asked */

export class LibraryFilters extends LitElement {
  /** @override */
  static properties = { asked: { attribute: false }, sites: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      form {
        display: flex;
        flex-wrap: wrap;
        gap: 0.6rem 0.8rem;
        align-items: end;
      }
      label {
        display: grid;
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      input,
      select {
        color: var(--ink);
        width: 100%;
      }
      .text {
        flex: 1 1 16rem;
      }
      .plan {
        flex: 0 1 12rem;
      }
      .house {
        width: 5.5rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Asked} */
    this.asked = { ...ALL };
    /** Those of an archive. @type {string[] | null} */
    this.sites = null;
  }

  /** @override */
  render() {
    const { asked } = this;
    return html`<form role="search" aria-label="Find runs" @submit=${(/** @type {Event} */ event) => event.preventDefault()}>
      ${this.#field("text", "Find", "search", "title, site, plan or name of the run")} ${this.#field("from", "From", "date")} ${this.#field("to", "To", "date")}
      ${this.sites === null ? nothing : html`<label>Site ${this.#select("at", [["", "every site"], .../** @type {[string, string][]} */ (this.sites.map((site) => [site, site]))])}</label>`}
      ${this.#field("plan", "Plan", "text")} ${this.#field("house", "House", "text")}
      <label
        >Trouble
        ${this.#select("trouble", [["", "with or without"], ["any", "with any alarm"], ...Object.entries(ALARM_NAMES)])}
      </label>
      <label
        >Put away
        ${this.#select("archived", [
          ["false", "left out"],
          ["true", "only those"],
          ["all", "with them"],
        ])}
      </label>
      <button type="button" ?disabled=${!isNarrowed(asked)} @click=${() => this.#tell({ ...ALL })}>Show all</button>
    </form>`;
  }

  /** @param {keyof Asked} key @param {string} name @param {string} type @param {string} [hint] */
  #field(key, name, type, hint = "") {
    const write = (/** @type {Event} */ { target }) => this.#tell({ ...this.asked, [key]: /** @type {HTMLInputElement} */ (target).value });
    return html`<label class=${key}>${name} <input type=${type} placeholder=${hint} .value=${this.asked[key]} @input=${write} /></label>`;
  }

  /** @param {keyof Asked} key @param {[string, string][]} options */
  #select(key, options) {
    const choose = (/** @type {Event} */ { target }) => this.#tell({ ...this.asked, [key]: /** @type {HTMLSelectElement} */ (target).value });
    return html`<select @change=${choose}>
      ${options.map(([value, name]) => html`<option value=${value} ?selected=${value === this.asked[key]}>${name}</option>`)}
    </select>`;
  }

  /** @param {Asked} asked */
  #tell(asked) {
    this.dispatchEvent(new CustomEvent("ask", { detail: asked, bubbles: true, composed: true }));
  }
}

customElements.define("library-filters", LibraryFilters);
