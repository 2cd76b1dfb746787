// @ts-check
// What goes out of the house: the report, a recording that anybody can replay, the tables, the plan.

import { LitElement, css, html } from "../../vendor/lit.js";
import { fileAddress } from "./debriefs.js";
import { shared } from "../elements/shared.js";

export class DebriefFiles extends LitElement {
  /** @override */
  static properties = { run: { attribute: false }, clock: { attribute: false }, tables: { attribute: false }, told: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        max-width: 60rem;
        padding: 0.8rem 0 2rem;
      }
      h2 {
        font-size: 1.35rem;
        line-height: 1.2;
        padding: 0.8rem 0 0.2rem;
      }
      p {
        color: var(--ink-2);
        max-width: 44rem;
        padding: 0.2rem 0 0.6rem;
      }
      .told {
        color: var(--ink);
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
        margin-top: 0.6rem;
      }
      .told:empty {
        display: none;
      }
      .files {
        display: flex;
        flex-wrap: wrap;
        gap: 0.6rem;
      }
      a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0.4rem 1rem;
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        background: var(--surface);
      }
      a:hover {
        background: var(--lit);
      }
    `,
  ];

  constructor() {
    super();
    this.run = "";
    /** @type {import("../wire.js").Story["clock"]} */
    this.clock = "now";
    /** @type {import("../wire.js").TableDocument[]} */
    this.tables = [];
    /** What becomes of the file that is being made. */
    this.told = "";
  }

  /** @override */
  render() {
    const known = this.clock === "now" ? "as it is known now" : "as the desks knew it then";
    return html`
      <h2>The report</h2>
      <p>Summary, charts, tables and notes, ${known}. The page is one file and needs no network; it prints as it stands.</p>
      <div class="files">${this.#file("report.html", "Report as a page", this.clock)} <button type="button" @click=${() => this.#keep(fileAddress(this.run, "report.pdf", this.clock))}>Report as PDF</button></div>
      <p class="told" role="status">${this.told}</p>
      <h2>The recording</h2>
      <p>The plan and every event in one file, with who reported what and when it arrived. Dropped on the library page of any Festoon it gives the same account.</p>
      <div class="files">${this.#file("recording.events.jsonl", "Recording")} ${this.#file("plan.toml", "Plan as it was run")}</div>
      <h2>The tables</h2>
      <p>Comma-separated, times in seconds after the planned start, ${known}.</p>
      <div class="files">
        ${this.#file("tables.zip", "All tables", this.clock)}
        ${this.tables.map(({ id, title }) => this.#file(`tables/${encodeURIComponent(id)}.csv`, title, this.clock))}
      </div>
    `;
  }

  /** @param {string} address */
  #keep(address) {
    this.dispatchEvent(new CustomEvent("keep", { detail: address, bubbles: true, composed: true }));
  }

  /** @param {string} name @param {string} said @param {import("../wire.js").Story["clock"]} [clock] */
  #file(name, said, clock) {
    return html`<a href=${fileAddress(this.run, name, clock)} download>${said}</a>`;
  }
}

customElements.define("debrief-files", DebriefFiles);
