// @ts-check
// One field of a plan: what it is called, what stands in it, and beside it what is wrong or why it is so.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { setting, textOf, written } from "./view.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {NonNullable<import("../wire.js").PlanFault["meant"]>} PlanValue
 * @typedef {"text" | "number" | "choice" | "day"} FieldKind
 */

export class PlanField extends LitElement {
  /** @override */
  static properties = {
    plan: { attribute: false },
    path: { attribute: false },
    shown: { attribute: false },
    edits: { attribute: false },
    label: { type: String },
    more: { type: String },
    kind: { type: String },
    unit: { type: String },
    why: { type: String },
    hint: { type: String },
    choices: { attribute: false },
    options: { attribute: false },
    below: { type: Boolean },
    typed: { state: true },
  };

  /** @override */
  static shadowRootOptions = { ...LitElement.shadowRootOptions, delegatesFocus: true };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        min-width: 0;
      }
      label {
        display: block;
        font-size: 0.85rem;
        color: var(--ink-2);
      }
      .row {
        display: flex;
        align-items: center;
        gap: 0.4rem;
      }
      input,
      select {
        flex: 1 1 4rem;
        width: 100%;
        min-width: 0;
      }
      input::placeholder {
        color: var(--ink-3);
        opacity: 1;
      }
      [aria-invalid="true"] {
        border-color: var(--watch);
        border-width: 3px;
      }
      .unit {
        flex: 0 0 auto;
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      .why {
        font-size: 0.85rem;
        color: var(--ink-2);
        margin-top: 0.2rem;
      }
      .fault {
        margin-top: 0.2rem;
        padding-left: 0.5rem;
        border-left: 4px solid var(--watch);
        font-size: 0.9rem;
      }
      .fault button {
        margin-top: 0.2rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    this.path = "";
    /** What stands in it where that is not simply the value. @type {string | null} */
    this.shown = null;
    /** What to change when something is typed; without it the value at the path. @type {((text: string) => Edit[]) | null} */
    this.edits = null;
    this.label = "";
    /** What the label says to those who do not see where the field stands. */
    this.more = "";
    /** @type {FieldKind} */
    this.kind = "text";
    this.unit = "";
    this.why = "";
    this.hint = "";
    /** @type {[string, string][]} values with their names */
    this.choices = [];
    /** Texts that are offered while something else may be typed. @type {string[]} */
    this.options = [];
    /** Whether its fault is told below it by whoever has the field: then it is only described by it. */
    this.below = false;
    /** What was typed and is not in the plan yet. @type {string | null} */
    this.typed = null;
    this.entered = "";
    this.revision = -1;
  }

  /** A plan has hundreds of fields, and a key that is pressed changes one of them. @override @param {Map<string, unknown>} changed */
  shouldUpdate(changed) {
    const before = /** @type {import("./view.js").PlanView | null | undefined} */ (changed.get("plan"));
    if (changed.size > 1 || !before || !this.plan) return true;
    return seen(before, this.path) !== seen(this.plan, this.path);
  }

  /** @override */
  willUpdate() {
    const { plan } = this;
    if (!plan) return;
    const other = plan.revision !== this.revision;
    this.revision = plan.revision;
    const arrived = this.typed !== null && !this.#hasFocus() && this.#asShown(this.typed) === this.#known();
    if (other || arrived) this.typed = null;
  }

  /** @override */
  render() {
    const { plan, kind } = this;
    if (!plan) return nothing;
    const fault = plan.fault(this.path);
    const about = [fault ? "fault" : "", this.why ? "why" : ""].filter((id) => id).join(" ");
    return html`
      <label for="field">${this.label}<span class="unseen">${this.more}</span></label>
      <div class="row">
        ${kind === "choice" ? this.#select(plan, about, fault !== undefined) : this.#input(plan, about, fault !== undefined)}
        ${this.unit ? html`<span class="unit">${this.unit}</span>` : nothing}
      </div>
      ${fault ? this.#fault(fault, plan) : nothing}
      ${this.why ? html`<p class="why" id="why">${this.#usualText(plan)}${this.why}</p>` : nothing}
    `;
  }

  /** The input is written by hand: what is being typed must stay, whatever comes in. @override */
  updated() {
    const input = this.renderRoot.querySelector("input");
    const text = this.typed ?? this.#known();
    if (input && input.value !== text && !(this.#hasFocus() && this.typed !== null)) input.value = text;
  }

  /** @param {import("./view.js").PlanView} plan @param {string} about @param {boolean} wrong */
  #input(plan, about, wrong) {
    const usual = this.kind === "number" ? plan.usualAt(this.path) : undefined;
    return html`<input
        id="field"
        type=${this.kind === "day" ? "date" : "text"}
        inputmode=${this.kind === "number" ? "decimal" : nothing}
        autocomplete="off"
        spellcheck="false"
        list=${this.options.length ? "options" : nothing}
        placeholder=${usual === undefined ? this.hint : textOf(usual)}
        aria-describedby=${about || nothing}
        aria-invalid=${wrong}
        ?disabled=${plan.locked}
        @focus=${() => (this.entered = this.#known())}
        @input=${this.#type}
        @change=${this.#leave}
        @blur=${this.#leave}
      />
      ${this.options.length ? html`<datalist id="options">${this.options.map((option) => html`<option value=${option}></option>`)}</datalist>` : nothing}`;
  }

  /** @param {import("./view.js").PlanView} plan @param {string} about @param {boolean} wrong */
  #select(plan, about, wrong) {
    const known = this.#known();
    const usual = plan.usualAt(this.path);
    const strange = known !== "" && !this.choices.some(([value]) => value === known);
    const unsaid = usual === undefined ? (known === "" ? "choose" : "") : `${nameIn(this.choices, textOf(usual))} (usual)`;
    return html`<select id="field" aria-describedby=${about || nothing} aria-invalid=${wrong} ?disabled=${plan.locked} @change=${this.#choose}>
      ${unsaid ? html`<option value="" .selected=${known === ""}>${unsaid}</option>` : nothing}
      ${strange ? html`<option value=${known} .selected=${true}>${known}</option>` : nothing}
      ${this.choices.map(([value, name]) => html`<option value=${value} .selected=${value === known}>${name}</option>`)}
    </select>`;
  }

  /** @param {import("../wire.js").PlanFault} fault @param {import("./view.js").PlanView} plan */
  #fault({ text, meant }, plan) {
    if (this.below) return html`<p id="fault" class="unseen">${text}</p>`;
    const offered = meant === null ? "" : (textOf(meant).split("T").pop() ?? "");
    return html`<div class="fault">
      <p id="fault">${text}</p>
      ${offered && !plan.locked ? html`<button type="button" @click=${() => this.#use(offered)}>Write ${offered}</button>` : nothing}
    </div>`;
  }

  /** @param {import("./view.js").PlanView} plan */
  #usualText(plan) {
    const usual = plan.usualAt(this.path);
    if (usual === undefined || this.kind === "choice") return "";
    return `Usual: ${textOf(usual)}${this.unit ? ` ${this.unit}` : ""}. `;
  }

  #known() {
    return this.shown ?? this.plan?.text(this.path) ?? "";
  }

  /** What is typed as it will be shown once the plan has it. @param {string} text */
  #asShown(text) {
    return this.kind === "number" ? textOf(written(text, "number") ?? "") : text;
  }

  #hasFocus() {
    return this.shadowRoot?.activeElement instanceof HTMLInputElement;
  }

  /** @param {Event} event */
  #type({ target }) {
    this.typed = /** @type {HTMLInputElement} */ (target).value;
    this.#tell(this.typed);
  }

  #leave() {
    const after = this.typed ?? this.#known();
    if (after !== this.entered) this.dispatchEvent(new CustomEvent("left", { detail: { before: this.entered, after } }));
    this.entered = after;
    this.dispatchEvent(new CustomEvent("rest", { bubbles: true, composed: true }));
    this.requestUpdate();
  }

  /** @param {Event} event */
  #choose({ target }) {
    const { value } = /** @type {HTMLSelectElement} */ (target);
    this.#tell(value);
    this.dispatchEvent(new CustomEvent("rest", { bubbles: true, composed: true }));
  }

  /** @param {string} text */
  #use(text) {
    this.typed = null;
    this.#tell(text);
    this.renderRoot.querySelector("input")?.focus();
  }

  /** @param {string} text */
  #tell(text) {
    const edits = this.edits ? this.edits(text) : [setting(this.path, written(text, this.kind === "number" ? "number" : "text"))];
    this.dispatchEvent(new CustomEvent("edit", { detail: { edits, group: this.path }, bubbles: true, composed: true }));
  }
}

/** All that a field shows of a plan. @param {import("./view.js").PlanView} plan @param {string} path */
function seen(plan, path) {
  return JSON.stringify([plan.value(path), plan.fault(path), plan.usualAt(path), plan.revision, plan.locked]);
}

/** @param {[string, string][]} choices @param {string} value */
function nameIn(choices, value) {
  return choices.find(([each]) => each === value)?.[1] ?? value;
}

customElements.define("plan-field", PlanField);
