// @ts-check
// Paths that the site file has otherwise than the plan: said, and taken at one touch.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { plural } from "../words/format.js";
import { sitePaths, takeSitePaths } from "./chain.js";
import { planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./chain.js").KnownPath} KnownPath */

export class PlanSitePaths extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false }, known: { attribute: false }, site: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .sited {
        border: 1px solid var(--rule);
        border-radius: 0.4rem;
        padding: 0.4rem 0.8rem;
        margin-top: 0.6rem;
      }
      ul {
        list-style: disc;
        padding-left: 1.2rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** @type {import("./chain.js").KnownPaths | null} */
    this.known = null;
    /** What `known` has of a site; another one, and it is looked at anew. @type {import("../wire.js").SiteInfo | null} */
    this.site = null;
  }

  /** @override */
  render() {
    const { plan, known, site } = this;
    const paths = plan && known && site ? sitePaths(plan, known) : [];
    if (!plan || paths.length === 0) return nothing;
    const take = () => this.#tell((now) => (known ? takeSitePaths(now, known) : []));
    return html`<div class="sited" role="group" aria-label="Paths of the site file">
      <p>The site file has ${paths.length} ${plural(paths.length, "path")} otherwise than this plan:</p>
      <ul>
        ${paths.map(({ place, here, there }) => html`<li>${plan.houseName(place - 1)} to ${plan.house(place)}: ${lengthOf(there)}${here ? `, here ${lengthOf(here)}` : ""}</li>`)}
      </ul>
      <button type="button" class="add" ?disabled=${plan.locked} @click=${take}>Take ${plural(paths.length, "it", "them")} from the site file</button>
    </div>`;
  }

  /** @param {(plan: import("./view.js").PlanView) => NonNullable<import("../wire.js").CheckRequest["edits"]>[number][]} make */
  #tell(make) {
    this.dispatchEvent(new CustomEvent("follow", { detail: { make, group: "" }, bubbles: true, composed: true }));
  }
}

/** @param {KnownPath} path */
function lengthOf({ key, length }) {
  return `${length} ${key === "path_ft" ? "ft" : "m"}`;
}

customElements.define("plan-site-paths", PlanSitePaths);
