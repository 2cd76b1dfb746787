// @ts-check
// Which site file a plan goes by, and how many people there are: chosen, and said.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { MOST_PEOPLE, crewFrom, faultInWords, siteInWords } from "./sites.js";
import { setting } from "./view.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").SiteLine} SiteLine */

export class PlanSite extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false }, sites: { attribute: false }, crew: { attribute: false }, typed: { state: true } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      :host {
        margin-top: 1.4rem;
      }
      label {
        display: block;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
      input,
      select {
        width: 100%;
      }
      [aria-invalid="true"] {
        border-color: var(--watch);
        border-width: 3px;
      }
      .why {
        font-size: 0.85rem;
        color: var(--ink-2);
        margin-top: 0.2rem;
      }
      .which {
        margin-top: 0.4rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** Null until they are known. @type {SiteLine[] | null} */
    this.sites = null;
    /** How many people there are; null where that is not asked. @type {number | null} */
    this.crew = null;
    /** What was typed for it and is no number of people. @type {string | null} */
    this.typed = null;
  }

  /** @override */
  render() {
    const { plan, sites } = this;
    if (!plan) return nothing;
    return html`<section aria-labelledby="judged">
      <h2 id="judged">Site and crew</h2>
      <p class="said">A site file says what stays: houses, booths, decks, loops, measured paths, walks. A plan takes the one that has the name of its site.</p>
      <div class="fields">
        <div>${sites === null ? nothing : this.#chooser(plan, sites)}</div>
        <div>${this.#people(plan)}</div>
      </div>
    </section>`;
  }

  /** @param {import("./view.js").PlanView} plan @param {SiteLine[]} sites */
  #chooser(plan, sites) {
    const { site } = plan.checked;
    const choose = (/** @type {Event} */ { target }) => this.#choose(/** @type {HTMLSelectElement} */ (target).value);
    return html`<label for="site">Site file</label>
      <select id="site" aria-describedby="which" ?disabled=${plan.locked} @change=${choose}>
        <option value="" .selected=${site === null}>none</option>
        ${sites.map(({ name, called }) => html`<option value=${name} .selected=${name === site?.name}>${called}</option>`)}
      </select>
      <div class="which" id="which" role="status">${this.#said(plan, sites)}</div>`;
  }

  /** @param {import("./view.js").PlanView} plan @param {SiteLine[]} sites */
  #said(plan, sites) {
    const { site } = plan.checked;
    const kept = sites.find(({ name }) => name === site?.name);
    if (site && site.faults > 0) {
      return html`<p class="fault">sites/${site.name}.site.toml has the name of this site, but nothing of it is taken: it has faults.</p>
        <ul class="faults" aria-label="Faults of the site file">
          ${(kept?.faults ?? []).map((fault) => html`<li class="fault">${faultInWords(fault)}</li>`)}
        </ul>`;
    }
    if (site) return html`<p class="why">Taken is sites/${site.name}.site.toml, which has the name of this site${kept ? `: ${siteInWords(kept)}` : ""}.</p>`;
    if (sites.length === 0) return html`<p class="why">No site file is kept here. Drop NAME.site.toml on this page, and it is.</p>`;
    const called = plan.text("site");
    return html`<p class="why">${called ? `No site file is called ${called}. ` : ""}Choose one, and the plan gets the name of its site.</p>`;
  }

  /** @param {import("./view.js").PlanView} plan */
  #people(plan) {
    const wrong = this.typed !== null;
    return html`<label for="crew">People in the crew</label>
      <input id="crew" inputmode="numeric" autocomplete="off" aria-describedby="people" aria-invalid=${wrong} ?disabled=${plan.locked} .value=${this.typed ?? String(this.crew ?? "")} @input=${this.#count} />
      <div id="people">
        ${wrong ? html`<p class="fault">Write a number from 1 to ${MOST_PEOPLE}, or leave it empty.</p>` : nothing}
        <p class="why">Says who has to be where, when, and whether one is too few. Empty: not asked. This device remembers it.</p>
      </div>`;
  }

  /** The name of its site is what a plan takes a site file by. @param {string} name */
  #choose(name) {
    const called = this.sites?.find((site) => site.name === name)?.called ?? null;
    this.dispatchEvent(new CustomEvent("edit", { detail: { edits: [setting("site", called)], group: "" }, bubbles: true, composed: true }));
  }

  /** @param {Event} event */
  #count({ target }) {
    const { value } = /** @type {HTMLInputElement} */ (target);
    const crew = crewFrom(value);
    this.typed = crew === undefined ? value : null;
    if (crew === undefined || crew === this.crew) return;
    this.crew = crew;
    this.dispatchEvent(new CustomEvent("crew", { detail: crew, bubbles: true, composed: true }));
  }
}

customElements.define("plan-site", PlanSite);
