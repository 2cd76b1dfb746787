// @ts-check
// The chain: which houses, in which order, and how far it is from each to the next.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { addHouse, housesLeft, moveHouse, pathIn, renamedHouse, takeOutHouse, turnAbout } from "./chain.js";
import { Dragging } from "./dragging.js";
import { TELLERS, TOLD } from "./fields.js";
import { setting, written } from "./view.js";
import { faultsOf } from "./plan-faults.js";
import "./plan-field.js";
import { goTo, handleInk, planInk } from "./plan-ink.js";
import "./plan-site-paths.js";
import "./plan-stops.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {import("./view.js").PlanView} PlanView
 */

export class PlanChain extends LitElement {
  /** @override */
  static properties = {
    plan: { attribute: false },
    known: { attribute: false },
    site: { attribute: false },
    wanted: { state: true },
    open: { state: true },
    units: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .house {
        display: grid;
        grid-template-columns: 2.4rem minmax(3.6rem, 0.8fr) minmax(4.6rem, 1.5fr) minmax(9.4rem, 1.5fr) minmax(3.8rem, 0.8fr) minmax(4.7rem, 1fr) auto;
        gap: 0.3rem 0.5rem;
        align-items: end;
      }
      .house .buttons {
        flex-wrap: nowrap;
      }
      .adding {
        display: flex;
        flex-wrap: wrap;
        align-items: flex-end;
        gap: 0.4rem 0.8rem;
        margin-top: 0.6rem;
      }
      .adding label {
        display: grid;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
      .adding select {
        color: var(--ink);
        font-size: 1rem;
      }
      .adding button {
        margin-top: 0;
      }
      .path {
        display: flex;
        gap: 0.3rem;
        align-items: flex-end;
      }
      .path plan-field {
        flex: 1 1 5rem;
      }
      .path select {
        width: 4.2rem;
      }
      .first {
        align-self: center;
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      @media (max-width: 1279px), (min-width: 1600px) and (max-width: 1699px) {
        .house {
          grid-template-columns: 2.4rem minmax(4rem, 1fr) minmax(5rem, 1.6fr) minmax(5rem, 1.2fr) auto;
        }
        .path {
          grid-column: 2 / span 2;
          grid-row: 2;
        }
        .first {
          grid-column: 2 / span 2;
          grid-row: 2;
        }
        .rollers {
          grid-column: 4;
          grid-row: 2;
        }
      }
      @media (max-width: 599px) {
        .house {
          grid-template-columns: 3rem 1fr 1fr;
        }
        .house > * {
          grid-column: auto;
          grid-row: auto;
        }
        .path,
        .buttons {
          grid-column: 1 / -1;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {PlanView | null} */
    this.plan = null;
    /** @type {import("./chain.js").KnownPaths | null} */
    this.known = null;
    /** What `known` has of a site. @type {import("../wire.js").SiteInfo | null} */
    this.site = null;
    /** Which house of the site is to be added; null for the first that is left, empty for another. @type {string | null} */
    this.wanted = null;
    /** Places of the houses whose more is shown. @type {number[]} */
    this.open = [];
    /** The unit that was chosen for a path that is not there yet, by id. @type {Record<string, "path_ft" | "path_m">} */
    this.units = {};
    this.dragging = new Dragging(this, (from, to) => this.#move(from, to));
    /** Which house to go to once it is drawn anew, and which of its parts. @type {{id: string, part: string, revision: number} | null} */
    this.next = null;
  }

  /** @override */
  updated() {
    const { next, plan } = this;
    if (!next || !plan || plan.revision === next.revision) return;
    this.next = null;
    const place = placeOf(plan, next.id);
    const entry = this.renderRoot.querySelectorAll(".entry")[place < 0 ? plan.count("stations") - 1 : place];
    void goTo(entry, next.part);
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan) return nothing;
    const places = plan.houses().map((_, place) => place);
    const fault = plan.fault("stations");
    return html`
      <section aria-labelledby="chain">
        <h2 id="chain">The chain, in film order</h2>
        <p class="said">The print goes through the first house first. Measure each path along the film, with a tape, from gate to gate.</p>
        ${fault ? html`<p class="fault">${fault.text}</p>` : nothing}
        <ol class="entries" aria-label="Houses in film order">
          ${places.map((place) => this.#house(plan, place, places.length))}
        </ol>
        <div class="adding">
          ${this.#choice(plan)}
          <button type="button" class="add" ?disabled=${plan.locked} @click=${() => this.#add(plan)}>${places.length === 0 ? "Add the first house" : "Add a house"}</button>
          ${places.length > 1 ? html`<button type="button" class="turn" ?disabled=${plan.locked} @click=${() => this.#turn()}>Turn the chain about</button>` : nothing}
        </div>
        <plan-site-paths .plan=${plan} .known=${this.known} .site=${this.site}></plan-site-paths>
      </section>
      <plan-stops .plan=${plan}></plan-stops>
    `;
  }

  /** Which house of the site is added next, where any is left. @param {PlanView} plan */
  #choice(plan) {
    const left = this.known && this.site ? housesLeft(plan, this.known) : [];
    if (left.length === 0) return nothing;
    const wanted = this.#wanted(plan);
    return html`<label>House to add
      <select ?disabled=${plan.locked} @change=${(/** @type {Event} */ { target }) => (this.wanted = /** @type {HTMLSelectElement} */ (target).value)}>
        ${left.map(({ house, values }) => html`<option value=${house} .selected=${house === wanted}>House ${house}${values["booth"] ? `, ${values["booth"]}` : ""}</option>`)}
        <option value="" .selected=${wanted === ""}>another than the site has</option>
      </select></label>`;
  }

  /** @param {PlanView} plan */
  #wanted(plan) {
    const left = this.known && this.site ? housesLeft(plan, this.known).map(({ house }) => house) : [];
    return this.wanted === "" || left.includes(this.wanted ?? "") ? (this.wanted ?? "") : (left[0] ?? "");
  }

  #turn() {
    this.open = [];
    this.#tell((now) => (this.known ? turnAbout(now, this.known) : []));
  }

  /** @param {PlanView} plan @param {number} place @param {number} count */
  #house(plan, place, count) {
    const at = `stations[${place}]`;
    const [name, id] = [plan.houseName(place), plan.text(`${at}.id`)];
    const open = this.open.includes(place);
    return html`<li class="entry ${this.dragging.ink(place)}" aria-label=${name}>
      <div class="house">
        <span class="handle" aria-hidden="true" title="Drag" @pointerdown=${(/** @type {PointerEvent} */ event) => plan.locked || this.dragging.start(event, place)}>${handleInk}</span>
        <plan-field below class="name" .plan=${plan} .path=${`${at}.house`} label="House" @left=${(/** @type {CustomEvent} */ { detail }) => this.#named(place, detail.before)}></plan-field>
        <plan-field below .plan=${plan} .path=${`${at}.booth`} label="Booth"></plan-field>
        ${place === 0 ? html`<p class="first">The print comes in here.</p>` : this.#path(plan, place, id)}
        <plan-field below class="rollers" .plan=${plan} .path=${`${at}.rollers`} kind="number" label="Rollers" hint="0"></plan-field>
        <plan-field below .plan=${plan} .path=${`${at}.advertised`} label="Advertised" hint="19:00"></plan-field>
        <div class="buttons">
          <button type="button" class="up" aria-label="Move ${name} up" ?disabled=${plan.locked || place === 0} @click=${() => this.#step(id, -1)}>↑</button>
          <button type="button" class="down" aria-label="Move ${name} down" ?disabled=${plan.locked || place === count - 1} @click=${() => this.#step(id, 1)}>↓</button>
          <button type="button" aria-expanded=${open} aria-label="More about ${name}" @click=${() => this.#openOrClose(place)}>${open ? "Less" : "More"}</button>
        </div>
      </div>
      ${faultsOf(plan, at, (edits) => this.#tell(() => edits))} ${open ? this.#more(plan, place, name) : nothing}
    </li>`;
  }

  /** @param {PlanView} plan @param {number} place @param {string} id */
  #path(plan, place, id) {
    const at = `stations[${place}]`;
    const has = (/** @type {string} */ key) => plan.value(`${at}.${key}`) !== undefined;
    const key = has("path_m") ? "path_m" : has("path_ft") ? "path_ft" : (this.units[id] ?? this.#usualUnit(plan));
    const from = plan.houseName(place - 1);
    const length = (/** @type {string} */ text) => [setting(`${at}.${key}`, written(text, "number"))];
    const choose = (/** @type {Event} */ { target }) => this.#inUnit(place, id, /** @type {HTMLSelectElement} */ (target).value);
    return html`<div class="path">
      <plan-field below .plan=${plan} .path=${`${at}.${key}`} kind="number" .edits=${length} label="Path" more=" from ${from}"></plan-field>
      <select aria-label="Unit of the path from ${from}" ?disabled=${plan.locked} @change=${choose}>
        <option value="path_ft" .selected=${key === "path_ft"}>ft</option>
        <option value="path_m" .selected=${key === "path_m"}>m</option>
      </select>
    </div>`;
  }

  /** That of the last path that there is. @param {PlanView} plan @returns {"path_ft" | "path_m"} */
  #usualUnit(plan) {
    const metres = plan.houses().some((_, place) => plan.value(`stations[${place}].path_m`) !== undefined);
    const feet = plan.houses().some((_, place) => plan.value(`stations[${place}].path_ft`) !== undefined);
    return metres && !feet ? "path_m" : "path_ft";
  }

  /** @param {PlanView} plan @param {number} place @param {string} name */
  #more(plan, place, name) {
    const at = `stations[${place}]`;
    const field = (/** @type {string} */ key, /** @type {string} */ label, /** @type {string} */ unit, /** @type {string} */ why) =>
      html`<plan-field below .plan=${plan} .path=${`${at}.${key}`} kind="number" .label=${label} .unit=${unit} .why=${why}></plan-field>`;
    return html`<div class="more">
      <div class="fields">
        ${place > 0 ? field("reserve_s", "Reserve of the link to it", "s", "Where its loop holds more or less than the others.") : nothing}
        ${field("start_offset_s", "Motor starts later by", "s", "After the first motor. Usual: with it.")}
        ${field("earliest_s", "Strike no earlier than", "s before", "Before the picture is at its gate.")}
        ${field("latest_s", "Strike no later than", "s before", "Before the picture is at its gate.")}
        ${field("douser_limit_s", "Against a shut douser at most", "s", "By the lamphouse's maker.")}
        ${field("gate_limit_s", "Film may stand in the light", "s", "By the lamphouse's maker.")}
      </div>
      <h3 id="tells-${place}">Who tells of it</h3>
      <div class="fields" role="group" aria-labelledby="tells-${place}">
        ${TOLD.map(([key, label]) => html`<plan-field below .plan=${plan} .path=${`${at}.inputs.${key}`} kind="choice" .choices=${TELLERS} .label=${label}></plan-field>`)}
      </div>
      <div class="buttons">
        <button type="button" ?disabled=${plan.locked} @click=${() => this.#takeOut(plan, place)}>Take ${name} out</button>
      </div>
    </div>`;
  }

  /** @param {PlanView} plan */
  #add(plan) {
    const { known } = this;
    if (!known) return;
    const wanted = this.#wanted(plan);
    this.next = { id: "", part: ".name", revision: plan.revision };
    this.#tell((now) => addHouse(now, known, now.houses().includes(wanted) ? "" : wanted));
  }

  /** Moves a house by one; whoever does so with the keyboard stays on it. @param {string} id @param {1 | -1} by */
  #step(id, by) {
    const { plan } = this;
    if (!plan) return;
    this.next = { id, part: by < 0 ? ".up" : ".down", revision: plan.revision };
    this.#tell((now) => {
      const place = placeOf(now, id);
      const to = place + by;
      const last = now.count("stations") - 1;
      if (to < 0 || to > last) return [];
      // At an end its own button is of no use any more: the other one is in reach.
      if (this.next && (to === 0 || to === last)) this.next.part = to === 0 ? ".down" : ".up";
      return this.#moved(now, place, to);
    });
  }

  /** @param {number} from @param {number} to */
  #move(from, to) {
    const id = this.plan?.text(`stations[${from}].id`) ?? "";
    this.#tell((now) => this.#moved(now, placeOf(now, id, from), to));
  }

  /** @param {PlanView} plan @param {number} from @param {number} to @returns {Edit[]} */
  #moved(plan, from, to) {
    if (!this.known || from < 0) return [];
    this.open = this.open.map((place) => placeAfter(place, from, to));
    return moveHouse(plan, from, to, this.known);
  }

  /** @param {PlanView} plan @param {number} place */
  #takeOut(plan, place) {
    const { known } = this;
    if (!known) return;
    const [id, beside] = [place, place > 0 ? place - 1 : 1].map((each) => plan.text(`stations[${each}].id`));
    this.next = { id: beside ?? "", part: ".name", revision: plan.revision };
    this.open = this.open.filter((each) => each !== place).map((each) => (each > place ? each - 1 : each));
    this.#tell((now) => takeOutHouse(now, placeOf(now, id ?? "", place), known));
  }

  /** @param {number} place @param {string} before */
  #named(place, before) {
    // What was typed last may be on its way: names follow once the plan has it.
    const make = (/** @type {PlanView} */ plan) => (this.known ? renamedHouse(plan, place, before, this.known) : []);
    this.dispatchEvent(new CustomEvent("follow", { detail: { make, group: `stations[${place}].house` }, bubbles: true, composed: true }));
  }

  /** @param {number} place @param {string} id @param {string} key */
  #inUnit(place, id, key) {
    const unit = key === "path_m" ? "path_m" : "path_ft";
    this.units = { ...this.units, [id]: unit };
    this.#tell((now) => pathIn(now, place, unit));
  }

  /** @param {number} place */
  #openOrClose(place) {
    this.open = this.open.includes(place) ? this.open.filter((each) => each !== place) : [...this.open, place];
  }

  /** Changes are told by what makes them of the plan as it then is: one before them may still be under way. @param {(plan: PlanView) => Edit[]} make */
  #tell(make) {
    this.dispatchEvent(new CustomEvent("follow", { detail: { make, group: "" }, bubbles: true, composed: true }));
  }
}

/** Where a house is by its id; of several with one id the one at `near`. @param {PlanView} plan @param {string} id @param {number} [near] */
function placeOf(plan, id, near = 0) {
  const is = (/** @type {number} */ place) => plan.text(`stations[${place}].id`) === id;
  return is(near) && near < plan.count("stations") ? near : plan.houses().findIndex((_, place) => is(place));
}

/** Where an entry is once another has moved. @param {number} place @param {number} from @param {number} to */
function placeAfter(place, from, to) {
  if (place === from) return to;
  return place - (place > from ? 1 : 0) + (place - (place > from ? 1 : 0) >= to ? 1 : 0);
}

customElements.define("plan-chain", PlanChain);
