// @ts-check
// Which motors are wired to stop together: a failsafe of one takes the others along.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { addStopGroup, stopsWith } from "./stops.js";
import { faultsOf } from "./plan-faults.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./view.js").PlanView} PlanView */

export class PlanStops extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      :host {
        margin-top: 1.4rem;
      }
      .houses {
        display: flex;
        flex-wrap: wrap;
        gap: 0 1rem;
        align-items: center;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {PlanView | null} */
    this.plan = null;
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan || plan.count("stations") < 2) return nothing;
    const groups = Array.from({ length: plan.count("stop_groups") }, (_, place) => place);
    return html`<section aria-labelledby="stops">
      <h2 id="stops">Motors that stop together</h2>
      <p class="said">Where a failsafe of one is wired to stop the others too. Each house is in one group at most.</p>
      <ul class="entries" aria-label="Groups of motors that stop together">
        ${groups.map((place) => this.#group(plan, place))}
      </ul>
      <button type="button" class="add" ?disabled=${plan.locked || addStopGroup(plan).length === 0} @click=${() => this.#tell(addStopGroup)}>Add a group</button>
    </section>`;
  }

  /** @param {PlanView} plan @param {number} place */
  #group(plan, place) {
    const at = `stop_groups[${place}]`;
    const named = plan.value(`${at}.stations`);
    const ids = Array.isArray(named) ? named : [];
    const takeOut = /** @type {const} */ ({ do: "remove", list: "stop_groups", at: place });
    return html`<li class="entry" aria-label="Group ${place + 1}">
      <div class="houses">
        ${plan.houses().map((_, house) => {
          const id = plan.text(`stations[${house}].id`);
          const choose = (/** @type {Event} */ { target }) => this.#tell((now) => stopsWith(now, place, id, /** @type {HTMLInputElement} */ (target).checked));
          return html`<label class="check"><input type="checkbox" .checked=${ids.includes(id)} ?disabled=${plan.locked} @change=${choose} />${plan.houseName(house)}</label>`;
        })}
        <button type="button" aria-label="Take group ${place + 1} out" ?disabled=${plan.locked} @click=${() => this.#tell(() => [takeOut])}>✕</button>
      </div>
      ${faultsOf(plan, at, (edits) => this.#tell(() => edits))}
    </li>`;
  }

  /** @param {(plan: PlanView) => NonNullable<import("../wire.js").CheckRequest["edits"]>[number][]} make */
  #tell(make) {
    this.dispatchEvent(new CustomEvent("follow", { detail: { make, group: "" }, bubbles: true, composed: true }));
  }
}

customElements.define("plan-stops", PlanStops);
