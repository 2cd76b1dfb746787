// @ts-check
// What is looked at once more when a chain is laced: splices and tape marks, every machine, the foil cues of the print.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { capital } from "../words/format.js";
import { doneOf } from "./progress.js";
import { shared } from "../elements/shared.js";
import { tickInk, tickRow } from "./tick-ink.js";

/** @typedef {import("../wire.js").ThreadingTick} ThreadingTick */

export class ThreadingChecks extends LitElement {
  /** @override */
  static properties = { kept: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    tickInk,
    css`
      :host {
        display: grid;
        gap: 1.4rem;
        grid-template-columns: minmax(0, 1fr);
      }
      h2 {
        font-size: 1.25rem;
        line-height: 1.2;
        margin-bottom: 0.5rem;
      }
      h3 {
        font-size: 1.1rem;
        margin: 0.6rem 0 0.3rem;
      }
      .of {
        color: var(--ink-2);
        font-weight: 400;
        font-size: 1rem;
      }
      ul {
        display: grid;
        gap: 0.4rem;
      }
      .machine {
        grid-template-columns: repeat(2, minmax(0, 1fr));
      }
      li {
        display: grid;
      }
      .where {
        display: block;
        font-weight: 700;
      }
      .tick {
        align-items: center;
      }
      .machine .tick {
        gap: 0.6rem;
        padding: 0.4rem 0.5rem;
        line-height: 1.2;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./keeping.js").KeptList | null} */
    this.kept = null;
  }

  /** @override */
  render() {
    const { kept } = this;
    if (!kept) return nothing;
    const { marks, machines, cues } = kept.list;
    return html`
      ${this.#section("marks", "Splices and tape marks", marks, this.#list(marks))}
      ${this.#section("machines", "Every machine, once more", machines, this.#machines(machines))}
      ${cues.length ? this.#section("cues", "Foil cues on the print", cues, this.#list(cues)) : nothing}
    `;
  }

  /** @param {string} id @param {string} title @param {ThreadingTick[]} ticks @param {unknown} content */
  #section(id, title, ticks, content) {
    return html`<section aria-labelledby=${id}>
      <h2 id=${id}>${title} <span class="of">${doneOf(ticks, this.kept?.ticks ?? {})} of ${ticks.length}</span></h2>
      ${content}
    </section>`;
  }

  /** @param {ThreadingTick[]} ticks */
  #list(ticks) {
    return html`<ul>
      ${ticks.map((tick) => html`<li>${this.#row(tick, html`<span class="where">${capital(tick.where)}</span> ${capital(tick.what)}`)}</li>`)}
    </ul>`;
  }

  /** A house after another, in film order. @param {ThreadingTick[]} ticks */
  #machines(ticks) {
    const houses = [...new Set(ticks.map(({ where }) => where))];
    return houses.map(
      (house) => html`<h3>${house}</h3>
        <ul class="machine" aria-label=${`Checks of ${house}`}>
          ${ticks.filter(({ where }) => where === house).map((tick) => html`<li>${this.#row(tick, html`<span class="unseen">${house}: </span>${tick.what}`)}</li>`)}
        </ul>`,
    );
  }

  /** @param {ThreadingTick} tick @param {unknown} words */
  #row({ key }, words) {
    const done = this.kept !== null && key in this.kept.ticks;
    return tickRow(
      { key, done, changed: this.kept?.changed.includes(key) ?? false, tell: (ticked) => this.dispatchEvent(new CustomEvent("tick", { detail: ticked })) },
      words,
    );
  }
}

customElements.define("threading-checks", ThreadingChecks);
