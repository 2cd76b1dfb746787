// @ts-check
// The run to be read: each chart beside the table of the same figures.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { houseClock } from "../words/format.js";
import { linkName } from "../words/names.js";
import { startRows, strikeRows } from "./offsets.js";
import { shared } from "../elements/shared.js";
import "./data-table.js";
import "./link-slack.js";
import "./offset-chart.js";
import "./run-chart.js";

/** What to say where a table has no row. @type {Record<string, string>} */
const EMPTY = {
  links: "One station alone has no link.",
  slack: "One station alone has no link.",
  alarms: "No alarm was raised.",
  notes: "Nobody left a note. Notes are made at the booth desk, or added under Put it right.",
  corrections: "Nothing was corrected.",
  events: "Nothing was observed.",
};

export class DebriefReading extends LitElement {
  /** @override */
  static properties = {
    info: { attribute: false },
    series: { attribute: false },
    tables: { attribute: false },
    clock: { attribute: false },
    at_s: { attribute: false },
    chosen: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: grid;
        grid-template-columns: 12rem minmax(0, 1fr);
        gap: 1.4rem;
        padding: 0.8rem 0 2rem;
      }
      nav {
        display: flex;
        flex-direction: column;
        align-self: start;
      }
      nav button {
        border: 0;
        border-left: 4px solid transparent;
        border-radius: 0;
        background: none;
        text-align: start;
        color: var(--ink-2);
      }
      nav button:hover {
        background: var(--surface);
      }
      nav [aria-pressed="true"] {
        border-left-color: var(--ink);
        background: var(--lit);
        color: var(--ink);
        font-weight: 700;
      }
      h2 {
        font-size: 1.35rem;
        line-height: 1.2;
        padding-bottom: 0.5rem;
      }
      .clock {
        color: var(--ink-2);
        font-size: 0.9rem;
        padding-bottom: 0.6rem;
      }
      .links {
        display: grid;
        grid-template-columns: repeat(auto-fill, minmax(min(22rem, 100%), 1fr));
        gap: 0.8rem 1.4rem;
        padding-bottom: 1rem;
      }
      run-chart {
        height: 26rem;
        padding-bottom: 1rem;
      }
      offset-chart {
        padding-bottom: 1rem;
      }
      @media (max-width: 899px) {
        :host {
          grid-template-columns: minmax(0, 1fr);
        }
        nav {
          flex-direction: row;
          flex-wrap: wrap;
        }
        nav button {
          border-left: 0;
          border-bottom: 4px solid transparent;
        }
        nav [aria-pressed="true"] {
          border-bottom-color: var(--ink);
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    /** @type {import("../wire.js").Series | null} */
    this.series = null;
    /** @type {import("../wire.js").TableDocument[]} */
    this.tables = [];
    /** @type {import("../wire.js").Story["clock"]} */
    this.clock = "now";
    this.at_s = 0;
    this.chosen = "summary";
  }

  /** @override */
  render() {
    const table = this.tables.find(({ id }) => id === this.chosen) ?? this.tables[0];
    if (!this.info || !table) return nothing;
    const clock = houseClock(this.info);
    return html`
      <nav aria-label="What to read">
        ${this.tables.map(
          ({ id, title }) =>
            html`<button type="button" aria-pressed=${id === table.id ? "true" : "false"} @click=${() => (this.chosen = id)}>${title}</button>`,
        )}
      </nav>
      <div>
        <h2>${table.title}</h2>
        ${this.clock === "then" ? html`<p class="clock">As the desks knew it then.</p>` : nothing} ${this.#chart(table, clock)}
        <data-table .table=${table} .clock=${clock} .empty=${EMPTY[table.id] ?? "Nothing to say."}></data-table>
      </div>
    `;
  }

  /** @param {import("../wire.js").TableDocument} table @param {import("../words/format.js").HouseClock} clock */
  #chart(table, clock) {
    switch (table.id) {
      case "slack":
      case "links":
        return this.#slack(clock);
      case "passes":
      case "alarms":
        return html`<run-chart .series=${this.series} .info=${this.info} .at_s=${this.at_s}></run-chart>`;
      case "starts":
        return html`<offset-chart .rows=${startRows(table)} .label=${"How late each motor started"} .zero=${"as planned"}></offset-chart>`;
      case "strikes":
        return html`<offset-chart .rows=${strikeRows(table)} .label=${"Each strike against its window"} .zero=${"window closes"}></offset-chart>`;
      default:
        return nothing;
    }
  }

  /** @param {import("../words/format.js").HouseClock} clock */
  #slack(clock) {
    const { info } = this;
    return html`<div class="links">
      ${this.series?.slack.links.map((link) => {
        return html`<link-slack
          .name=${info ? linkName(info, link.id) : ""}
          .t_s=${this.series?.slack.t_s ?? []}
          .link=${link}
          .clock=${clock}
          .at_s=${this.at_s}
        ></link-slack>`;
      })}
    </div>`;
  }
}

customElements.define("debrief-reading", DebriefReading);
