// @ts-check
// What the show is: its title, where, and when the motors start.

import { LitElement, html, nothing } from "../../vendor/lit.js";
import "./plan-field.js";
import "./plan-site.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** Time zones that a browser knows; old ones tell none, and the field takes any. */
const ZONES = zones();

function zones() {
  const known = /** @type {{supportedValuesOf?: (key: string) => string[]}} */ (/** @type {unknown} */ (Intl)).supportedValuesOf?.("timeZone") ?? [];
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  return [...new Set([own, "UTC", ...known])].filter((zone) => zone);
}

export class PlanShow extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false }, sites: { attribute: false }, crew: { attribute: false } };

  /** @override */
  static styles = [shared, planInk];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** @type {import("../wire.js").SiteLine[] | null} */
    this.sites = null;
    /** @type {number | null} */
    this.crew = null;
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan) return nothing;
    const { day, time } = plan.checked;
    const starting = (/** @type {string} */ on, /** @type {string} */ at) => [/** @type {const} */ ({ do: "start", day: on, time: at })];
    const fault = plan.fault("timing.motors_at");
    const dayWrong = fault !== undefined && !/^\d{4}-\d\d-\d\d$/.test(day);
    return html`<section aria-labelledby="show">
      <h2 id="show">The show</h2>
      <div class="fields">
        <plan-field .plan=${plan} .path=${"title"} label="Title" why="It is what the show is called on every desk."></plan-field>
        <plan-field .plan=${plan} .path=${"site"} label="Site" why="The name of the complex. A site file of this name is taken by itself. It may stay empty."></plan-field>
        <plan-field
          .plan=${plan}
          .path=${dayWrong ? "timing.motors_at" : "day"}
          .shown=${day}
          .edits=${(/** @type {string} */ text) => starting(text, plan.checked.time)}
          kind="day"
          label="Day of the start"
        ></plan-field>
        <plan-field
          .plan=${plan}
          .path=${dayWrong ? "time" : "timing.motors_at"}
          .shown=${time}
          .edits=${(/** @type {string} */ text) => starting(plan.checked.day, text)}
          label="First motor starts at"
          hint="18:50"
          why="By the house's clock. Every other time follows from it. Seconds may be given: 18:50:30."
        ></plan-field>
        <plan-field
          .plan=${plan}
          .path=${"timezone"}
          .options=${ZONES}
          .edits=${(/** @type {string} */ text) => [/** @type {const} */ ({ do: "zone", name: text.trim() })]}
          label="Time zone"
          hint="UTC"
          why="The house's clock goes by it. Another zone leaves the time of day as it is."
        ></plan-field>
      </div>
    </section>
    <plan-site .plan=${plan} .sites=${this.sites} .crew=${this.crew}></plan-site>`;
  }
}

customElements.define("plan-show", PlanShow);
