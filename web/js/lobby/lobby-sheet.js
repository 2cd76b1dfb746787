// @ts-check
// The lobby on paper: every house with its times. It is there for the printer alone.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { houseClock } from "../words/format.js";
import { heldRunsInWords } from "./lobby.js";
import { printedAt, sheetRows } from "./sheet.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../live/live.js").FollowedRun} FollowedRun */

const WRAPPED = 2; // lines that a row takes where the name of its film wraps: chosen

export class LobbySheet extends LitElement {
  /** @override */
  static properties = { runs: { attribute: false }, lost: { attribute: false }, printing: { state: true } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: none;
      }
      @media print {
        :host {
          display: block;
          color: #000;
          font-size: 12pt;
          line-height: 1.25;
        }
        h1 {
          font-size: 20pt;
          line-height: 1.15;
        }
        table {
          width: 100%;
          margin-top: 5mm;
          /* One page, A4 or letter: the print is as large as the number of houses lets it be. */
          font-size: min(18pt, 205mm / var(--rows, 9) / 2);
          line-height: 1.25;
        }
        th,
        td {
          padding: 0.32em 1em 0.32em 0;
          color: #000;
          border-bottom: 0.3mm solid #777;
        }
        thead th {
          font-size: max(9pt, 0.75em);
        }
        tbody th {
          font-weight: 700;
        }
        td.film {
          white-space: normal;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {FollowedRun[]} */
    this.runs = [];
    /** Whether the server is away: what is printed is old. */
    this.lost = false;
    this.printing = false;
    this.begin = () => (this.printing = true);
    this.end = () => (this.printing = false);
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    addEventListener("beforeprint", this.begin);
    addEventListener("afterprint", this.end);
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    removeEventListener("beforeprint", this.begin);
    removeEventListener("afterprint", this.end);
  }

  /** @override */
  render() {
    if (!this.printing) return nothing;
    const rows = sheetRows(this.runs);
    const known = this.runs.find(({ state }) => state !== null);
    if (!known?.state || rows.length === 0) return nothing;
    const films = this.runs.length > 1;
    this.style.setProperty("--rows", String(rows.length * (films ? WRAPPED : 1)));
    const sites = [...new Set(this.runs.flatMap(({ line }) => line.site ?? []))].join(", ");
    return html`<h1>${films ? "The houses" : known.line.title}</h1>
      ${sites ? html`<p>${sites}</p>` : nothing}
      <p>${this.lost ? "As it was at" : "Printed at"} ${printedAt(houseClock(known.state.info), known.now_s)}. Times move: look at the lobby desk.</p>
      ${heldRunsInWords(this.runs).map((held) => html`<p>${held}</p>`)} ${this.#table(rows, films)}`;
  }

  /** @param {import("./sheet.js").SheetRow[]} rows @param {boolean} films */
  #table(rows, films) {
    const has = (/** @type {"intermission" | "credits"} */ what) => rows.some((row) => row[what] !== "");
    const [intermission, credits] = [has("intermission"), has("credits")];
    const head = (/** @type {string} */ name) => html`<th scope="col">${name}</th>`;
    return html`<table>
      <thead>
        <tr>
          ${head("House")}${films ? head("Film") : nothing}${head("Starts")}${intermission ? head("Intermission") : nothing}${credits ? head("Credits") : nothing}${head("Lets out")}
        </tr>
      </thead>
      <tbody>
        ${rows.map(
          (row) => html`<tr>
            <th scope="row">${row.house}</th>
            ${films ? html`<td class="film">${row.film}</td>` : nothing}
            <td>${row.starts}</td>
            ${intermission ? html`<td>${row.intermission}</td>` : nothing}${credits ? html`<td>${row.credits}</td>` : nothing}
            <td>${row.out}</td>
          </tr>`,
        )}
      </tbody>
    </table>`;
  }
}

customElements.define("lobby-sheet", LobbySheet);
