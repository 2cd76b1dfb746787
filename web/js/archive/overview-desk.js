// @ts-check
// Every site: which show needs somebody now?

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { countInWords } from "./overview.js";
import "../elements/lost-screen.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./overview.js").Row} Row */

export class OverviewDesk extends LitElement {
  /** @override */
  static properties = {
    rows: { attribute: false },
    trouble: { attribute: false },
    age_s: { attribute: false },
    asOf: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 120rem;
        margin: 0 auto;
        padding: clamp(0.8rem, 2vw, 2rem);
        display: grid;
        gap: 1rem;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        justify-content: space-between;
        align-items: baseline;
        gap: 0.4rem 1.5rem;
      }
      h1 {
        font-size: clamp(1.5rem, 3vw, 3rem);
        line-height: 1.1;
        letter-spacing: -0.02em;
      }
      header a {
        margin-left: 1rem;
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
      }
      .also {
        color: var(--ink-2);
        font-size: 1.2rem;
      }
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
      }
      .rows {
        display: grid;
        grid-template-columns: repeat(auto-fill, minmax(min(100%, 14.5rem), 1fr));
        align-items: start;
        gap: 0.4rem;
      }
      .row {
        display: grid;
        grid-template-rows: auto 1fr auto;
        gap: 0.3rem;
        padding: 0.7rem 1rem;
        border: 2px solid var(--rule);
        border-radius: 0.5rem;
        overflow-wrap: anywhere;
      }
      .row[data-level="act"] {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      .row[data-level="watch"] {
        border-color: var(--watch);
      }
      .row[data-silent] {
        border-style: dashed;
        border-color: var(--ink-2);
      }
      .row[data-quiet] {
        display: block;
        padding: 0;
        border-width: 1px;
        font-size: max(0.75rem, 14px);
        line-height: 1.3;
      }
      .row[data-quiet] a {
        display: grid;
        align-content: center;
        padding: 0.2rem 0.4rem;
        font-weight: 400;
        text-decoration: none;
      }
      .row[data-quiet] h2 {
        font-size: inherit;
        line-height: inherit;
        text-decoration: underline;
      }
      @media (min-width: 40rem) {
        .row:not([data-quiet]) {
          grid-column: span 2;
        }
      }
      h2 {
        font-size: 1.3rem;
        line-height: 1.2;
      }
      .wrong {
        font-weight: 700;
      }
      .state,
      .quiet {
        color: var(--ink-2);
      }
      .row[data-level="act"] .state {
        color: inherit;
      }
      .silent {
        font-weight: 700;
      }
      .row a {
        display: inline-flex;
        align-items: center;
        justify-self: start;
        min-height: 3rem;
        font-weight: 700;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Row[] | null} null until they are known */
    this.rows = null;
    /** Why the archive cannot be read now. */
    this.trouble = "";
    /** For how long the server has said nothing, where that is too long. @type {number | null} */
    this.age_s = null;
    this.asOf = "";
  }

  /** @override */
  render() {
    const [first, ...others] = this.rows === null ? ["Waiting for the archive"] : countInWords(this.rows);
    return html`
      ${this.age_s === null ? nothing : html`<lost-screen .age_s=${this.age_s} .asOf=${this.asOf} .todo=${"Call the sites."}></lost-screen>`}
      <main>
        <header>
          <div role="status">
            <h1>${first}</h1>
            <p class="also">${others.join(" · ")}</p>
          </div>
          <nav aria-label="Desks"><a href="/months">Sites and months</a><a href="/library">Library of runs</a></nav>
        </header>
        ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble} What is shown stood so at ${this.asOf}.</p>` : nothing}
        ${this.rows?.length === 0 ? html`<p class="also">No site is known yet. festoon archive site add NAME URL makes one.</p>` : nothing}
        <ol class="rows" aria-label="Runs, worst first">
          ${repeat(
            this.rows ?? [],
            ({ key }) => key,
            (one) => (one.isQuiet ? quietRow(one) : row(one)),
          )}
        </ol>
      </main>
    `;
  }
}

/** @param {Row} row */
function row({ site, title, wall, level, state, wrong, todo, silent }) {
  const name = title ? `${site}: ${title}` : site;
  return html`<li class="row" aria-label=${name} data-level=${level} ?data-silent=${silent !== ""}>
    <h2>${name}</h2>
    <div>
      ${silent ? html`<p class="silent">${silent}</p>` : nothing}
      ${wrong.map((words) => html`<p class="wrong">${words}</p>`)} ${level === "act" && todo ? html`<p>${todo}</p>` : nothing}
      <p class="state">${state}</p>
    </div>
    <a href=${wall} rel="noreferrer">${title ? "Its wall" : "Its own server"}<span class="unseen"> (${name})</span></a>
  </li>`;
}

/** Small, and all of it leads to its wall: sixty of them fit a screen. @param {Row} row */
function quietRow({ site, title, wall, state, silent }) {
  const name = title ? `${site}: ${title}` : site;
  return html`<li class="row" aria-label=${name} data-quiet ?data-silent=${silent !== ""}>
    <a href=${wall} rel="noreferrer">
      <h2>${name}</h2>
      <span class="state">${silent || state}</span>
    </a>
  </li>`;
}

customElements.define("overview-desk", OverviewDesk);
