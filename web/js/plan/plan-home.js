// @ts-check
// The plans that are kept, and what a new one can begin with.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { countInWords, plural } from "../words/format.js";
import { beginAddress, planAddress, threadingAddress } from "./address.js";
import { startInWords, whenInWords } from "./words.js";
import "./plan-drop.js";
import "./plan-sites.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").PlanLine} PlanLine */

const BEGUN = { empty: "empty", example: "with the example", file: "from a file" };

export class PlanHome extends LitElement {
  /** @override */
  static properties = {
    list: { attribute: false },
    sites: { attribute: false },
    trouble: { attribute: false },
    locked: { attribute: false },
    begun: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 70rem;
        margin: 0 auto;
        padding: clamp(0.8rem, 2vw, 2rem);
        display: grid;
        gap: 1rem;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        justify-content: space-between;
        align-items: center;
        gap: 0.4rem 1.5rem;
      }
      header a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0 0.6rem;
      }
      h1 {
        font-size: clamp(1.5rem, 2.6vw, 2.2rem);
        line-height: 1.1;
        letter-spacing: -0.02em;
      }
      h2 {
        font-size: 1.2rem;
      }
      .empty {
        font-size: clamp(1.2rem, 2.2vw, 1.8rem);
        line-height: 1.25;
        max-width: 36em;
      }
      .said {
        color: var(--ink-2);
      }
      .ways {
        display: grid;
        grid-template-columns: repeat(auto-fit, minmax(min(17rem, 100%), 1fr));
        gap: 0.8rem;
      }
      .ways li {
        display: flex;
        flex-direction: column;
        align-items: flex-start;
        gap: 0.4rem;
        border: 1px solid var(--rule);
        border-radius: 0.4rem;
        background: var(--surface);
        padding: 0.8rem 1rem;
      }
      .ways p {
        flex: 1 1 auto;
        color: var(--ink-2);
      }
      .ways button {
        font-weight: 700;
        border-color: var(--ink);
      }
      .plans {
        border-top: 1px solid var(--rule);
      }
      .plans li {
        border-bottom: 1px solid var(--rule);
      }
      .plans a {
        display: block;
        padding: 0.6rem 0;
        text-decoration: none;
      }
      .plans a:hover {
        background: var(--surface);
      }
      .plans strong {
        font-size: 1.2rem;
        text-decoration: underline;
        text-underline-offset: 0.2em;
      }
      .plans span {
        display: block;
        color: var(--ink-2);
      }
      .plans nav {
        display: flex;
        flex-wrap: wrap;
        gap: 0 1.4rem;
      }
      .plans nav a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        text-decoration: underline;
      }
      .plans .state {
        color: var(--ink);
      }
      .begun a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        font-weight: 700;
      }
      .begun,
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
      }
    `,
  ];

  constructor() {
    super();
    /** Null until it is known. @type {import("../wire.js").PlanList | null} */
    this.list = null;
    /** The site files that are kept. @type {import("../wire.js").SiteLine[] | null} */
    this.sites = null;
    this.trouble = "";
    /** Whether this device only looks. */
    this.locked = false;
    /** What new plans were begun here and not saved. @type {("empty" | "example" | "file")[]} */
    this.begun = [];
  }

  /** @override */
  render() {
    const { list } = this;
    return html`<main>
      <header>
        <h1>Plans</h1>
        <nav aria-label="Desks"><a href="/">Live runs</a><a href="/library">Library</a></nav>
      </header>
      ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : nothing}
      ${this.begun.map((kind) => html`<p class="begun">A plan that you began ${BEGUN[kind]} is not saved yet. <a href=${beginAddress(kind)}>Go on with it</a></p>`)}
      ${list === null ? html`<p class="said" role="status">${this.trouble ? nothing : "Waiting for the server"}</p>` : this.#plans(list)}
      <plan-sites .sites=${this.sites} .locked=${this.locked}></plan-sites>
    </main>`;
  }

  /** @param {import("../wire.js").PlanList} list */
  #plans({ plans, strange }) {
    return html`
      ${
        plans.length === 0
          ? html`<p class="empty" role="status">
              ${this.locked ? "No plan is kept here yet." : "No plan is kept here yet. Begin with one of these: then add the houses in film order, the paths between them, and the print."}
            </p>`
          : html`<ol class="plans" aria-label="Plans, the latest saved first">
              ${repeat(
                plans,
                ({ name }) => name,
                (line) => this.#line(line),
              )}
            </ol>`
      }
      ${
        strange.length
          ? html`<p class="said">
              Beside them ${strange.length === 1 ? "is" : "are"} ${strange.join(", ")}: rename ${strange.length === 1 ? "it" : "them"} to letters, digits and hyphens to open ${strange.length === 1 ? "it" : "them"} here.
            </p>`
          : nothing
      }
      ${this.locked ? nothing : this.#beginnings(plans.length === 0)}
    `;
  }

  /** @param {PlanLine} line */
  #line(line) {
    const { name, title, site, houses, faults, saved_at, saved_by, timezone, in_use } = line;
    const about = [
      startInWords(line),
      site,
      `${countInWords(houses.length)} ${plural(houses.length, "house")}${houses.length ? `: ${houses.join(", ")}` : ""}`,
    ];
    const state = [faults ? `${faults} ${plural(faults, "thing")} to fill in or mend` : "", in_use ? "a live run goes by it" : ""]
      .filter((part) => part)
      .join(", ");
    return html`<li>
      <a href=${planAddress(name)}>
        <strong>${title}</strong>
        <span>${about.filter((part) => part).join(" · ")}</span>
        ${state ? html`<span class="state">${state}</span>` : nothing}
        <span>${name}.plan.toml${saved_at ? `, saved ${whenInWords(saved_at, timezone)} by ${saved_by}` : ""}</span>
      </a>
      ${
        faults
          ? nothing
          : html`<nav aria-label=${`Of ${title}`}>
              <a href="${planAddress(name)}#sheets">Sheets to print</a>
              <a href=${threadingAddress(name)}>Threading list</a>
            </nav>`
      }
    </li>`;
  }

  /** @param {boolean} first */
  #beginnings(first) {
    return html`<section aria-labelledby="new">
      <h2 id="new">${first ? "A first plan" : "A new plan"}</h2>
      <ul class="ways">
        <li>
          <h3>From an invented example</h3>
          <p>A whole chain to look at and to change: nine houses in three booths.</p>
          <button type="button" @click=${() => this.#begin("example")}>Begin with the example</button>
        </li>
        <li>
          <h3>Empty</h3>
          <p>A leader, a feature and a tail. The page says what is missing, one thing after another.</p>
          <button type="button" @click=${() => this.#begin("empty")}>Begin empty</button>
        </li>
        <li>
          <h3>From a file</h3>
          <p>A plan from elsewhere, NAME.plan.toml. It can be dropped anywhere on this page.</p>
          <plan-drop label="Choose a file"></plan-drop>
        </li>
      </ul>
    </section>`;
  }

  /** @param {"example" | "empty"} kind */
  #begin(kind) {
    this.dispatchEvent(new CustomEvent("begin", { detail: kind, bubbles: true, composed: true }));
  }
}

customElements.define("plan-home", PlanHome);
