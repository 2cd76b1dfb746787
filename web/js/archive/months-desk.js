// @ts-check
// Sites and months: what goes wrong where, and does it get better?

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { byKind, byMonth, bySite } from "./months.js";
import { plural } from "../words/format.js";
import "./bar-table.js";
import { shared } from "../elements/shared.js";

export class MonthsDesk extends LitElement {
  /** @override */
  static properties = { asked: { attribute: false }, found: { attribute: false }, trouble: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 76rem;
        margin: 0 auto;
        padding: clamp(0.8rem, 2vw, 2rem);
        display: grid;
        gap: 1.5rem;
      }
      header,
      form {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem 1.5rem;
        align-items: end;
      }
      header {
        justify-content: space-between;
      }
      h1 {
        font-size: clamp(1.5rem, 2.6vw, 2.2rem);
      }
      header a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        margin-left: 1rem;
      }
      label {
        display: grid;
        color: var(--ink-2);
      }
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
      }
      .about {
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    this.asked = { from: "", to: "", at: "" };
    /** @type {import("./months.js").Months | null} null until it is known */
    this.found = null;
    this.trouble = "";
  }

  /** @override */
  render() {
    return html`<main>
      <header>
        <h1>Sites and months</h1>
        <nav aria-label="Desks"><a href="/overview">Every site</a><a href="/library">Library of runs</a></nav>
      </header>
      <form aria-label="Which" @submit=${(/** @type {Event} */ event) => event.preventDefault()}>
        <label>From <input type="date" .value=${this.asked.from} @change=${this.#asks("from")} /></label>
        <label>To <input type="date" .value=${this.asked.to} @change=${this.#asks("to")} /></label>
        <label
          >Site
          <select @change=${this.#asks("at")}>
            ${["", ...(this.found?.sites ?? [])].map((site) => html`<option value=${site} ?selected=${site === this.asked.at}>${site || "every site"}</option>`)}
          </select></label
        >
      </form>
      ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : nothing}
      ${this.found === null ? html`<p class="about" role="status">${this.trouble ? nothing : "Waiting for the server"}</p>` : this.#charts(this.found.months)}
    </main>`;
  }

  /** @param {import("./months.js").MonthOfSite[]} months */
  #charts(months) {
    const runs = months.reduce((sum, month) => sum + month.runs, 0);
    if (runs === 0) return html`<p class="about" role="status">No run of these days was counted. A site counts a run once it is over.</p>`;
    return html`
      <p class="about" role="status">${runs} ${plural(runs, "run")} counted. Hours go from a run's planned start to its last event.</p>
      <bar-table .title=${"By month"} .unit=${"Alarms an hour"} .bars=${byMonth(months)}></bar-table>
      <bar-table .title=${"By site"} .unit=${"Alarms an hour"} .bars=${bySite(months)}></bar-table>
      <bar-table .title=${"By kind"} .unit=${"Alarms"} .bars=${byKind(months)}></bar-table>
    `;
  }

  /** @param {"from" | "to" | "at"} key */
  #asks(key) {
    return (/** @type {Event} */ { target }) => {
      const value = /** @type {HTMLInputElement | HTMLSelectElement} */ (target).value;
      this.dispatchEvent(new CustomEvent("ask", { detail: { ...this.asked, [key]: value } }));
    };
  }
}

customElements.define("months-desk", MonthsDesk);
