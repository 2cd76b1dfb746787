// @ts-check
// The site files that are kept, each with what it has or what is wrong with it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { faultInWords, siteInWords } from "./sites.js";
import { shared } from "../elements/shared.js";

export class PlanSites extends LitElement {
  /** @override */
  static properties = { sites: { attribute: false }, locked: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      h2 {
        font-size: 1.2rem;
      }
      .said,
      span {
        color: var(--ink-2);
      }
      .sites {
        border-top: 1px solid var(--rule);
        margin-top: 0.4rem;
      }
      .sites > li {
        border-bottom: 1px solid var(--rule);
        padding: 0.6rem 0;
      }
      span {
        display: block;
      }
      .faults li {
        border-left: 4px solid var(--watch);
        padding-left: 0.6rem;
        margin-top: 0.3rem;
        overflow-wrap: anywhere;
      }
    `,
  ];

  constructor() {
    super();
    /** Null until they are known. @type {import("../wire.js").SiteLine[] | null} */
    this.sites = null;
    /** Whether this device only looks. */
    this.locked = false;
  }

  /** @override */
  render() {
    const { sites, locked } = this;
    if (sites === null || (locked && sites.length === 0)) return nothing;
    return html`<section aria-labelledby="sites">
      <h2 id="sites">Sites</h2>
      <p class="said">
        A site file holds what stays from show to show: houses, booths, decks, loops, measured paths, walks. A plan takes the one that has the name of its site.
        ${locked ? nothing : "Drop NAME.site.toml on this page to keep it here."}
      </p>
      ${sites.length ? html`<ul class="sites" aria-label="Sites">${sites.map((site) => this.#site(site))}</ul>` : nothing}
    </section>`;
  }

  /** @param {import("../wire.js").SiteLine} site */
  #site(site) {
    const { name, called, faults } = site;
    const twice = (this.sites ?? []).filter((each) => each.called === called);
    return html`<li>
      <strong>${called}</strong>
      <span>sites/${name}.site.toml${faults.length ? "" : `: ${siteInWords(site)}`}</span>
      ${twice.length > 1 && twice[0] !== site ? html`<span>Not taken: sites/${twice[0]?.name}.site.toml has the same name.</span>` : nothing}
      ${faults.length ? html`<span>Nothing of it is taken while it has faults:</span><ul class="faults">${faults.map((fault) => html`<li>${faultInWords(fault)}</li>`)}</ul>` : nothing}
    </li>`;
  }
}

customElements.define("plan-sites", PlanSites);
