// @ts-check
// Who has to be where, when: one table for each of the crew.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { plural } from "../words/format.js";
import { planClock, timeText } from "./times.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").PlanTask} PlanTask */

export class PlanPeople extends LitElement {
  /** @override */
  static properties = { people: { attribute: false }, info: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      details {
        border-top: 1px solid var(--rule);
      }
      summary {
        min-height: 3rem;
        display: flex;
        align-items: center;
        gap: 0.5rem;
        font-weight: 700;
        cursor: pointer;
      }
      summary span {
        font-weight: 400;
        color: var(--ink-2);
      }
      li {
        display: grid;
        grid-template-columns: 5.2rem 1fr;
        gap: 0 0.6rem;
        padding: 0.15rem 0;
        font-variant-numeric: tabular-nums;
      }
      small {
        color: var(--ink-2);
        font-size: 0.9rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {PlanTask[][] | null} */
    this.people = null;
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
  }

  /** @override */
  render() {
    const { people, info } = this;
    if (!people || !info) return nothing;
    const clock = planClock(info);
    return html`<section aria-label="Who has to be where">
      ${people.map(
        (tasks, number) => html`<details>
          <summary>Person ${number + 1} <span>${tasks.length ? housesOf(tasks) : "has nothing to do"}</span></summary>
          <ol aria-label="What person ${number + 1} does">
            ${tasks.map(
              ({ house, what, begin_s, by_s, walk_s }) =>
                html`<li>
                  <span>${timeText(clock, begin_s, true)}</span>
                  <span>House ${house}: ${what} <small>by ${timeText(clock, by_s, true)}${walk_s >= 1 ? `, after a walk of ${Math.round(walk_s)} s` : ""}</small></span>
                </li>`,
            )}
          </ol>
        </details>`,
      )}
    </section>`;
  }
}

/** The houses that somebody goes to, each once. @param {PlanTask[]} tasks */
function housesOf(tasks) {
  const houses = [...new Set(tasks.map(({ house }) => house))];
  return `${plural(houses.length, "House")} ${houses.join(", ")}`;
}

customElements.define("plan-people", PlanPeople);
