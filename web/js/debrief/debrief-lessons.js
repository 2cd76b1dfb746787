// @ts-check
// What the runs say about the plan: paths and rates as they really were, and the plan that follows from them.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { signed } from "./cells.js";
import { planAddress } from "./debriefs.js";
import { clockText, houseClock } from "../words/format.js";
import { nextPlanName } from "./lessons.js";
import { linkName, numberOf } from "../words/names.js";
import { shared } from "../elements/shared.js";
import "./run-picker.js";

/** @typedef {import("../wire.js").LessonList} Lessons */

export class DebriefLessons extends LitElement {
  /** @override */
  static properties = {
    info: { attribute: false },
    runs: { attribute: false },
    lessons: { attribute: false },
    others: { attribute: false },
    name: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        padding: 0.8rem 0 2rem;
      }
      h2 {
        font-size: 1.25rem;
        line-height: 1.2;
        padding-top: 0.9rem;
      }
      p {
        color: var(--ink-2);
        max-width: 60rem;
        padding: 0.2rem 0 0.4rem;
      }
      .figure {
        text-align: end;
      }
      .changed > * {
        color: var(--ink);
        font-weight: 700;
      }
      .same > td {
        color: var(--ink-2);
      }
      .save {
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        margin-top: 1.2rem;
        padding: 0.8rem 1rem 1rem;
        max-width: 60rem;
      }
      .save h2 {
        padding-top: 0;
      }
      .row {
        display: flex;
        flex-wrap: wrap;
        align-items: end;
        gap: 0.8rem;
      }
      .row label {
        display: grid;
        font-size: 0.9rem;
        color: var(--ink-2);
        flex: 1 1 18rem;
      }
      .row a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0.4rem 1rem;
        border: 2px solid var(--ink);
        border-radius: 0.4rem;
        background: var(--surface);
        font-weight: 700;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    /** @type {string[]} */
    this.runs = [];
    /** @type {Lessons | null} */
    this.lessons = null;
    /** @type {import("../wire.js").LibraryRun[] | null} null until they are known */
    this.others = null;
    /** @type {string | null} what the plan is to be called, null until that is changed */
    this.name = null;
  }

  /** @override */
  render() {
    const { info, lessons } = this;
    if (!info) return nothing;
    return html`
      <run-picker .own=${info.stations.map(({ id }) => id)} .runs=${this.runs} .others=${this.others}></run-picker>
      ${lessons ? this.#lessons(lessons, info) : html`<p role="status">Working it out</p>`}
    `;
  }

  /** @param {Lessons} lessons @param {import("../wire.js").RunInfo} info */
  #lessons(lessons, info) {
    return html`
      <p>${fromRuns(lessons)} A path is put forward where the runs say clearly more about it than the plan did; the others stay as they are.</p>
      ${this.#paths(lessons, info)} ${this.#differences(lessons, info)} ${this.#warnings(lessons)} ${this.#rates(lessons, info)} ${this.#save(lessons)}
    `;
  }

  /** @param {Lessons} lessons @param {import("../wire.js").RunInfo} info */
  #paths({ paths }, info) {
    const rows = paths.map((path) => [
      linkName(info, path.link),
      `${path.old.toFixed(2)} ± ${path.old_sd.toFixed(2)} ${path.unit}`,
      `${path.new.toFixed(2)} ± ${path.new_sd.toFixed(2)} ${path.unit}`,
      `${plus(path.new - path.old, 2)} ${path.unit}`,
      `${path.old_transit_s.toFixed(2)} s`,
      `${path.new_transit_s.toFixed(2)} ± ${path.sd_s.toFixed(2)} s`,
      path.changed ? "put forward" : "stays",
    ]);
    const kinds = paths.map(({ changed }) => (changed ? "changed" : "same"));
    return table(
      "Paths",
      ["Link", "In the plan", "As the runs say", "Differs by", "On its way, in the plan", "On its way, as the runs say", "Corrected plan"],
      rows,
      kinds,
    );
  }

  /** @param {Lessons} lessons @param {import("../wire.js").RunInfo} info */
  #differences({ differences }, info) {
    const at = (/** @type {number} */ t_s) => clockText(houseClock(info), t_s, true, true);
    const off = (/** @type {number | null} */ s) => (s === null ? "not seen" : `${plus(s, 2)} s`);
    const rows = differences.map((each) => [
      each.house,
      at(each.head_old_s),
      at(each.head_new_s),
      `${plus(each.moved_s, 2)} s`,
      off(each.seen_off_old_s),
      off(each.seen_off_new_s),
      `${at(each.opens_new_s)} to ${at(each.closes_new_s)}`,
      at(each.lets_out_new_s),
    ]);
    const heads = [
      "House",
      "Head, as planned",
      "Head, corrected",
      "Moves by",
      "Seen after plan",
      "Seen after the corrected plan",
      "Strike window, corrected",
      "Lets out, corrected",
    ];
    return table("What would have been different", heads, rows);
  }

  /** @param {Lessons} lessons */
  #warnings({ warnings }) {
    if (warnings.gone.length + warnings.new.length === 0) return html`<p>The corrected plan has the same warnings as the old one.</p>`;
    return html`<h2>Warnings of the plan</h2>
      <ul>
      ${warnings.gone.map((text) => html`<li>No longer warned of: ${text}</li>`)} ${warnings.new.map((text) => html`<li>New warning: ${text}</li>`)}
    </ul>`;
  }

  /** @param {Lessons} lessons @param {import("../wire.js").RunInfo} info */
  #rates({ rates, common }, info) {
    const rows = rates.map((rate) => [
      rate.run,
      numberOf(info, rate.station),
      `${plus(rate.own_ppm, 0)} ± ${rate.own_sd_ppm.toFixed(0)} ppm`,
      `${plus(rate.whole_ppm, 0)} ± ${rate.whole_sd_ppm.toFixed(0)} ppm`,
    ]);
    return html`
      ${table("Rates, which are no part of a plan", ["Run", "House", "Against the others", "In all"], rows)}
      ${common.map(({ run, ppm, sd_ppm }) => html`<p>All motors together in ${run}: ${plus(ppm, 0)} ± ${sd_ppm.toFixed(0)} ppm.</p>`)}
    `;
  }

  /** @param {Lessons} lessons */
  #save(lessons) {
    const name = this.name ?? nextPlanName(lessons.plan_name);
    const changed = lessons.paths.filter((path) => path.changed).length;
    const write = (/** @type {Event} */ { target }) => (this.name = /** @type {HTMLInputElement} */ (target).value);
    return html`<section class="save" aria-label="The corrected plan">
      <h2>The corrected plan</h2>
      <p>
        ${changed === 0 ? "No path is changed: it is the old plan again." : `${changed} of ${lessons.paths.length} paths are changed, each with a comment that says from what.`}
        Nothing changes by itself: you get a file. Read it, check it with festoon plan, and start the next show with it.
      </p>
      <div class="row">
        <label>Name of the file <input .value=${name} @input=${write} /></label>
        <a href=${planAddress(this.runs, name.trim() || nextPlanName(lessons.plan_name))} download=${name.trim() || nextPlanName(lessons.plan_name)}>Save the corrected plan</a>
      </div>
    </section>`;
  }
}

/** @param {Lessons} lessons */
function fromRuns({ runs, plan_name }) {
  return runs.length === 1 ? `From one run of ${plan_name}.` : `From ${runs.length} runs together; the plan of the last, ${plan_name}, is corrected.`;
}

/** @param {number} value @param {number} digits */
function plus(value, digits) {
  const text = signed(value, digits);
  return value > 0 && Number(text) !== 0 ? `+${text}` : text;
}

/** @param {string} title @param {string[]} heads @param {string[][]} rows @param {string[]} [kinds] a class for each row */
function table(title, heads, rows, kinds = []) {
  return html`<h2>${title}</h2>
    <div class="sheet" tabindex="0" role="region" aria-label=${title}>
      <table>
        <caption class="unseen">
          ${title}
        </caption>
        <thead>
          <tr>
            ${heads.map((head, place) => html`<th scope="col" class=${place > 0 ? "figure" : ""}>${head}</th>`)}
          </tr>
        </thead>
        <tbody>
          ${rows.map(
            (row, place) => html`<tr class=${kinds[place] ?? ""}>
              ${row.map((cell, column) => (column === 0 ? html`<th scope="row">${cell}</th>` : html`<td class="figure">${cell}</td>`))}
            </tr>`,
          )}
        </tbody>
      </table>
    </div>`;
}

customElements.define("debrief-lessons", DebriefLessons);
