// @ts-check
// The print in film order, and the marks in it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { Dragging } from "./dragging.js";
import { KINDS, LENGTHS, addMark, addPiece, lengthKey, markIn, movePiece, takeOutMark, takeOutPiece } from "./print.js";
import { setting, written } from "./view.js";
import { faultsOf } from "./plan-faults.js";
import "./plan-field.js";
import { goTo, handleInk, planInk } from "./plan-ink.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {import("./view.js").PlanView} PlanView
 * @typedef {import("./print.js").LengthKey} LengthKey
 */

export class PlanPrint extends LitElement {
  /** @override */
  static properties = { plan: { attribute: false }, units: { state: true } };

  /** @override */
  static styles = [
    shared,
    planInk,
    css`
      .piece {
        display: grid;
        grid-template-columns: 2.4rem minmax(7rem, 0.8fr) minmax(8rem, 1.6fr) minmax(10.4rem, 1fr) auto auto;
        gap: 0.3rem 0.5rem;
        align-items: end;
      }
      .piece .buttons {
        flex-wrap: nowrap;
      }
      .piece .check {
        flex-direction: column-reverse;
        justify-content: space-between;
        align-self: stretch;
        gap: 0;
        padding-bottom: 0.7rem;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
      .mark {
        display: grid;
        grid-template-columns: minmax(8rem, 1.4fr) minmax(12rem, 1.6fr) minmax(8rem, 2fr) auto;
        gap: 0.3rem 0.5rem;
        align-items: end;
      }
      .length {
        display: flex;
        gap: 0.3rem;
        align-items: flex-end;
      }
      .length plan-field {
        flex: 1 1 5rem;
      }
      .length select {
        flex: 0 0 auto;
        width: 5.6rem;
      }
      .houses {
        display: flex;
        flex-wrap: wrap;
        gap: 0 1rem;
        align-items: center;
      }
      @media (max-width: 2199px) {
        .piece {
          grid-template-columns: 2.4rem minmax(9.6rem, 1fr) minmax(8rem, 1.6fr) auto;
        }
        .piece .length {
          grid-column: 2 / span 2;
          grid-row: 2;
        }
        .piece .check {
          grid-column: 4;
          grid-row: 2;
          flex-direction: row;
          justify-content: flex-start;
          align-self: end;
          gap: 0.4rem;
          padding-bottom: 0;
        }
        .mark {
          grid-template-columns: 1fr 1fr;
        }
      }
      @media (max-width: 599px) {
        .piece,
        .mark {
          grid-template-columns: 1fr;
        }
        .piece > *,
        .piece .length,
        .piece .check {
          grid-column: auto;
          grid-row: auto;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {PlanView | null} */
    this.plan = null;
    /** The unit that was chosen for a length that is not written in it yet, by entry. @type {Record<string, LengthKey>} */
    this.units = {};
    this.dragging = new Dragging(this, (from, to) => this.#tell(() => movePiece(from, to)));
    /** Which piece to go to once it is drawn anew. @type {{place: number, part: string, revision: number} | null} */
    this.next = null;
  }

  /** @override */
  updated() {
    const { next, plan } = this;
    if (!next || !plan || plan.revision === next.revision) return;
    this.next = null;
    void goTo(this.renderRoot.querySelectorAll(".entry")[next.place], next.part);
  }

  /** @override */
  render() {
    const { plan } = this;
    if (!plan) return nothing;
    const pieces = Array.from({ length: plan.count("print") }, (_, place) => place);
    const marks = Array.from({ length: plan.count("marks") }, (_, place) => place);
    const fault = plan.fault("print");
    return html`
      <section aria-labelledby="print">
        <h2 id="print">The print, in film order</h2>
        <p class="said">Head leader first. A length is a running time, feet by the counter, or frames.</p>
        ${fault ? html`<p class="fault">${fault.text}</p>` : nothing}
        <ol class="entries" aria-label="Pieces of the print in film order">
          ${pieces.map((place) => this.#piece(plan, place, pieces.length))}
        </ol>
        <button type="button" class="add" ?disabled=${plan.locked} @click=${() => this.#add(plan)}>Add a piece</button>
      </section>
      <section aria-labelledby="marks">
        <h2 id="marks">Marks in the print</h2>
        <p class="said">Other points that can be recognised as they go by, such as a change of lens, a splice or a strip of tape.</p>
        <ul class="entries" aria-label="Marks">
          ${marks.map((place) => this.#mark(plan, place))}
        </ul>
        <button type="button" class="add" ?disabled=${plan.locked || pieces.length === 0} @click=${() => this.#tell(addMark)}>Add a mark</button>
      </section>
    `;
  }

  /** @param {PlanView} plan @param {number} place @param {number} count */
  #piece(plan, place, count) {
    const at = `print[${place}]`;
    const name = plan.text(`${at}.title`) || `piece ${place + 1}`;
    return html`<li class="entry ${this.dragging.ink(place)}" aria-label=${name}>
      <div class="piece">
        <span class="handle" aria-hidden="true" title="Drag" @pointerdown=${(/** @type {PointerEvent} */ event) => plan.locked || this.dragging.start(event, place)}>${handleInk}</span>
        <plan-field below class="kind" .plan=${plan} .path=${`${at}.kind`} kind="choice" .choices=${KINDS} label="Kind"></plan-field>
        <plan-field below class="name" .plan=${plan} .path=${`${at}.title`} label="Title"></plan-field>
        ${this.#length(plan, at, "Length", "1:48:05")}
        ${flag(plan, `${at}.cue`, "foil cue", (edits) => this.#tell(() => edits))}
        <div class="buttons">
          <button type="button" class="up" aria-label="Move ${name} up" ?disabled=${plan.locked || place === 0} @click=${() => this.#step(plan, place, -1)}>↑</button>
          <button type="button" class="down" aria-label="Move ${name} down" ?disabled=${plan.locked || place === count - 1} @click=${() => this.#step(plan, place, 1)}>↓</button>
          <button type="button" aria-label="Take ${name} out" ?disabled=${plan.locked} @click=${() => this.#tell((now) => takeOutPiece(now, place))}>✕</button>
        </div>
      </div>
      ${faultsOf(plan, at, (edits) => this.#tell(() => edits))}
    </li>`;
  }

  /** @param {PlanView} plan @param {number} place */
  #mark(plan, place) {
    const at = `marks[${place}]`;
    const name = plan.text(`${at}.say`) || `mark ${place + 1}`;
    const houses = [...new Set(plan.houses())];
    const named = plan.value(`${at}.houses`);
    return html`<li class="entry" aria-label=${name}>
      <div class="mark">
        <plan-field below .plan=${plan} .path=${`${at}.after`} kind="choice" .choices=${plan.pieces()} label="Counted from the start of"></plan-field>
        ${this.#length(plan, at, "How far behind it", "0:00")}
        <plan-field below .plan=${plan} .path=${`${at}.say`} label="What is to be done" hint="nothing: it only goes by"></plan-field>
        <div class="buttons">
          <button type="button" aria-label="Take ${name} out" ?disabled=${plan.locked} @click=${() => this.#tell(() => takeOutMark(place))}>Take out</button>
        </div>
      </div>
      <div class="houses" role="group" aria-label="Where it is to be done">
        ${flag(plan, `${at}.cue`, "foil cue", (edits) => this.#tell(() => edits))}
        <plan-field below .plan=${plan} .path=${`${at}.notice_s`} kind="number" label="Asked for ahead" unit="s" hint="20"></plan-field>
        ${houses.map(
          (house) => html`<label class="check"
            ><input
              type="checkbox"
              .checked=${!Array.isArray(named) || named.includes(house)}
              ?disabled=${plan.locked}
              @change=${(/** @type {Event} */ { target }) => this.#tell((now) => markIn(now, place, house, /** @type {HTMLInputElement} */ (target).checked))}
            />House ${house}</label
          >`,
        )}
      </div>
      ${faultsOf(plan, at, (edits) => this.#tell(() => edits))}
    </li>`;
  }

  /** A length in the unit it has; one that is chosen anew waits for its figure, and the old one holds until then. @param {PlanView} plan @param {string} at @param {string} label @param {string} example of a time */
  #length(plan, at, label, example) {
    const has = lengthKey(plan, at);
    const key = this.units[at] ?? has;
    const was = key === has ? "" : `was ${plan.text(`${at}.${has}`)} ${unitName(has)}`.trim();
    const hint = plan.value(`${at}.${has}`) !== undefined && was ? was : key === "duration" ? example : "";
    const entry = plan.fault(at);
    const path = entry && plan.value(`${at}.${key}`) === undefined && !plan.fault(`${at}.${key}`) ? at : `${at}.${key}`;
    const edits = (/** @type {string} */ text) => {
      const value = written(text, key === "duration" ? "text" : "number");
      return [setting(`${at}.${value === null && was ? has : key}`, value === null && was ? (plan.value(`${at}.${has}`) ?? null) : value)];
    };
    const choose = (/** @type {Event} */ { target }) => this.#inUnit(at, has, /** @type {HTMLSelectElement} */ (target).value);
    return html`<div class="length">
      <plan-field below .plan=${plan} .path=${path} .shown=${plan.text(`${at}.${key}`)} .edits=${edits} .kind=${key === "duration" ? "text" : "number"} .label=${label} .hint=${hint}></plan-field>
      <select aria-label="Unit: ${label.toLowerCase()}" ?disabled=${plan.locked} @change=${choose}>
        ${LENGTHS.map(([each, name]) => html`<option value=${each} .selected=${each === key}>${name}</option>`)}
      </select>
    </div>`;
  }

  /** @param {string} at @param {LengthKey} has @param {string} chosen */
  #inUnit(at, has, chosen) {
    const others = Object.entries(this.units).filter(([entry]) => entry !== at);
    this.units = Object.fromEntries(chosen === has ? others : [...others, [at, /** @type {LengthKey} */ (chosen)]]);
  }

  /** @param {PlanView} plan */
  #add(plan) {
    this.units = {};
    this.next = { place: addPiece(plan).at, part: ".kind", revision: plan.revision };
    this.#tell((now) => addPiece(now).edits);
  }

  /** @param {PlanView} plan @param {number} place @param {1 | -1} by */
  #step(plan, place, by) {
    const id = plan.text(`print[${place}].id`);
    const to = place + by;
    const last = plan.count("print") - 1;
    const part = to === 0 ? ".down" : to === last ? ".up" : by < 0 ? ".up" : ".down";
    this.units = {};
    this.next = { place: to, part, revision: plan.revision };
    this.#tell((now) => (now.text(`print[${place}].id`) === id ? movePiece(place, to) : []));
  }

  /** @param {(plan: PlanView) => Edit[]} make of the plan as it then is: a change before it may still be under way */
  #tell(make) {
    this.dispatchEvent(new CustomEvent("follow", { detail: { make, group: "" }, bubbles: true, composed: true }));
  }
}

/** @param {LengthKey} key */
function unitName(key) {
  return key === "duration" ? "" : key === "feet" ? "ft" : "frames";
}

/** @param {PlanView} plan @param {string} path @param {string} label @param {(edits: Edit[]) => void} tell */
function flag(plan, path, label, tell) {
  const change = (/** @type {Event} */ { target }) => tell([setting(path, /** @type {HTMLInputElement} */ (target).checked || null)]);
  return html`<label class="check"><input type="checkbox" .checked=${plan.value(path) === true} ?disabled=${plan.locked} @change=${change} />${label}</label>`;
}

customElements.define("plan-print", PlanPrint);
