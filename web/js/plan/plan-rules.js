// @ts-check
// The rules of a plan, each with its usual value and the reason for it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { RULES } from "./fields.js";
import "./plan-field.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

const FIRST = 3; // groups that stand open: what differs from site to site

export class PlanRules extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .fields {
        grid-template-columns: repeat(auto-fill, minmax(min(18rem, 100%), 1fr));
      }
      summary h2 {
        display: inline;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan) return nothing;
    return html`<p class="said">An empty field has its usual value, which stands in it in grey.</p>
      ${RULES.map((group, place) => this.#group(plan, group, place))}`;
  }

  /** @param {import("./view.js").PlanView} plan @param {import("./fields.js").FieldGroup} group @param {number} place */
  #group(plan, { title, text, fields }, place) {
    const inner = html`<p class="said">${text}</p>
      <div class="fields">
        ${fields.map(
          ({ path, label, kind, unit, why, choices }) =>
            html`<plan-field .plan=${plan} .path=${path} .label=${label} .kind=${kind} .unit=${unit ?? ""} .why=${why} .choices=${choices ?? []}></plan-field>`,
        )}
      </div>`;
    if (place < FIRST) return html`<section><h2>${title}</h2>${inner}</section>`;
    const used = fields.some(({ path }) => plan.value(path) !== undefined);
    return html`<section><details ?open=${used}><summary><h2>${title}</h2></summary>${inner}</details></section>`;
  }
}

customElements.define("plan-rules", PlanRules);
