// @ts-check
// The answer of the plan desk: does this chain work, and what must be threaded, by when?

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { timeTable } from "./times.js";
import { stretchInWords, threadingOf, verdictOf } from "./words.js";
import "./plan-chart.js";
import "./plan-people.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").CheckedPlan} CheckedPlan */

/** @type {Record<string, string>} */
const LEVELS = { fault: "Does not work", warning: "Look at it", note: "Worth knowing" };

export class PlanAnswer extends LitElement {
  /** @override */
  static properties = { checked: { attribute: false }, drawn: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: grid;
        gap: 0.7rem;
        align-content: start;
        grid-template-columns: minmax(0, 1fr);
      }
      .verdict {
        font-size: 1.25rem;
        line-height: 1.2;
        font-weight: 700;
      }
      .verdict[data-level="fault"],
      .verdict[data-level="warning"] {
        border: 3px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.4rem 0.7rem;
      }
      .threading {
        font-size: 1.05rem;
      }
      .old {
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      .stale {
        border-left: 4px dashed var(--ink-3);
        padding-left: 0.5rem;
      }
      .list {
        display: grid;
        gap: 0.4rem;
      }
      .list li {
        border-left: 4px solid var(--rule);
        padding-left: 0.6rem;
      }
      .list li[data-level="fault"],
      .list li[data-level="warning"] {
        border-left-color: var(--watch);
      }
      .level {
        font-weight: 700;
      }
      .cause {
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      .remedy {
        font-size: 0.95rem;
      }
      .remedy::before {
        content: "→ ";
      }
      .stretches {
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      h2 {
        font-size: 1.05rem;
      }
      .sheet {
        max-width: 100%;
      }
      /* Collapsed borders do not go along with a column that stays. */
      table {
        border-collapse: separate;
        border-spacing: 0;
      }
      thead th {
        white-space: normal;
        vertical-align: bottom;
      }
      tbody th {
        font-weight: 700;
      }
      tr > :first-child {
        position: sticky;
        left: 0;
        background: var(--ground);
      }
      td small {
        display: block;
        color: var(--ink-2);
      }
      tbody tr:hover > * {
        background: var(--surface);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {CheckedPlan | null} */
    this.checked = null;
    /** The last that could be drawn. @type {CheckedPlan | null} */
    this.drawn = null;
  }

  /** @override */
  render() {
    const { checked, drawn } = this;
    if (!checked) return nothing;
    const verdict = verdictOf(checked);
    const stale = drawn !== null && drawn !== checked;
    return html`
      <p class="verdict" data-level=${verdict.level} role="status">${verdict.text}</p>
      ${checked.lacing ? this.#threading(checked, checked.lacing) : checked.schedule ? html`<p class="threading">What must be threaded, and by when, is shown once every path is given.</p>` : this.#faults(checked)}
      ${stale ? html`<p class="old">Chart and times are those of the plan before this.</p>` : nothing}
      ${drawn ? html`<plan-chart class=${stale ? "stale" : ""} .checked=${drawn}></plan-chart>` : nothing}
      ${this.#findings(checked)} ${checked.people ? html`<plan-people .people=${checked.people} .info=${checked.info}></plan-people>` : nothing}
      ${drawn ? this.#times(drawn, stale) : nothing}
    `;
  }

  /** @param {CheckedPlan} checked @param {import("../wire.js").PlanLacing} lacing */
  #threading(checked, { stretches }) {
    return html`<div>
      <p class="threading">${threadingOf(checked)}</p>
      ${stretches.length ? html`<ul class="stretches" aria-label="Stretches of leader">${stretches.map((stretch) => html`<li>${stretchInWords(stretch)}</li>`)}</ul>` : nothing}
    </div>`;
  }

  /** @param {CheckedPlan} checked */
  #faults({ faults }) {
    return html`<ul class="list" aria-label="To fill in or mend">
      ${faults.map(({ about, text }) => html`<li data-level="fault">${about ? html`<span class="level">${about}:</span> ` : nothing}${text}</li>`)}
    </ul>`;
  }

  /** @param {CheckedPlan} checked */
  #findings({ findings }) {
    if (findings.length === 0) return nothing;
    return html`<ul class="list" aria-label="What to look at">
      ${findings.map(
        ({ level, text, cause, remedy }) => html`<li data-level=${level}>
          <span class="level">${LEVELS[level]}:</span> ${text}
          <p class="cause">${cause}</p>
          <p class="remedy">${remedy}</p>
        </li>`,
      )}
    </ul>`;
  }

  /** @param {CheckedPlan} drawn @param {boolean} stale */
  #times({ info, schedule }, stale) {
    if (!info || !schedule) return nothing;
    const { columns, rows } = timeTable(info, schedule);
    return html`<div class="sheet ${stale ? "stale" : ""}" tabindex="0" role="region" aria-label="Table of times">
      <table>
        <caption>
          Times by the house's clock, in film order
        </caption>
        <thead>
          <tr>
            <th scope="col">House</th>
            ${columns.map((name) => html`<th scope="col">${name}</th>`)}
          </tr>
        </thead>
        <tbody>
          ${rows.map(
            ({ house, cells }) =>
              html`<tr>
                <th scope="row">${house}</th>
                ${cells.map((cell) => cellMarkup(cell ?? "–"))}
              </tr>`,
          )}
        </tbody>
      </table>
    </div>`;
  }
}

/** A time with its day below it, where it has one. @param {string} cell */
function cellMarkup(cell) {
  const [, time = cell, day = ""] = /^(\S+) (.+)$/.exec(cell) ?? [];
  return html`<td>${time}${day ? html` <small>${day}</small>` : nothing}</td>`;
}

customElements.define("plan-answer", PlanAnswer);
