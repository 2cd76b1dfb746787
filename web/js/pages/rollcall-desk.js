// @ts-check
// The roll call: every contact is closed once before the show, and is seen to arrive here.

import { css, html, nothing } from "../../vendor/lit.js";
import { clockText, houseClock } from "../words/format.js";
import { inputName, levelText, nextText, remarks, seenText, troubles } from "./rollcall.js";
import { RunDesk } from "../elements/run-desk.js";
import { shared } from "../elements/shared.js";
import "../elements/desk-links.js";
import "../elements/lost-screen.js";
import "../elements/run-header.js";

/** @typedef {import("../wire.js").ContactInput} ContactInput */
/** @typedef {import("../wire.js").ContactState} ContactState */

export class RollcallDesk extends RunDesk {
  /** @override */
  static properties = {
    schedule: { attribute: false },
    contacts: { attribute: false },
    reason: { attribute: false },
    answer: { attribute: false },
    by: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        display: grid;
        gap: 0.9rem;
        padding: 0.6rem 0.9rem 2rem;
      }
      .next {
        font-size: 1.5rem;
        line-height: 1.2;
        font-weight: 600;
      }
      .held {
        border: 3px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 0.9rem;
      }
      .orders,
      .keep {
        display: flex;
        flex-wrap: wrap;
        gap: 0.6rem;
        align-items: end;
      }
      table {
        font-size: 1.05rem;
      }
      td,
      th {
        white-space: normal;
        vertical-align: middle;
      }
      tr[aria-current] {
        background: var(--lit);
        font-weight: 700;
      }
      td[data-on] {
        font-weight: 700;
      }
      .note,
      .result {
        color: var(--ink-2);
        max-width: 70ch;
        overflow-wrap: anywhere;
      }
      .on {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
      }
      .empty {
        font-size: 1.4rem;
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} */
    this.schedule = null;
    /** @type {ContactState | null} */
    this.contacts = null;
    /** Why there are no contacts, or empty. */
    this.reason = "";
    /** What came of the last order, or empty. */
    this.answer = "";
    /** Who leads the roll call, or empty. */
    this.by = "";
  }

  /** @override */
  render() {
    const { state, contacts } = this;
    return html`
      ${this.lost ? this.#lost() : nothing}
      <main>
        ${state ? html`<run-header .info=${state.info} .said=${"Roll call"} .now_s=${this.now_s}></run-header>` : html`<h1 class="unseen">Roll call</h1>`}
        ${state && contacts ? this.#call(contacts) : this.#nothing()}
        ${state ? html`<desk-links .run=${state.info.run} here="rollcall"></desk-links>` : nothing}
      </main>
    `;
  }

  /** Why there is nothing to call, and where to go on where that is another page. */
  #nothing() {
    const noRun = this.refusal === "no run" ? "No live run has the name in this address." : this.trouble;
    return html`<p class="empty" role="status">${noRun || this.reason || "Waiting for the server"}</p>
      ${noRun ? html`<p><a class="on" href="/">Choose a live run</a></p>` : nothing}`;
  }

  #lost() {
    const asOf = this.state ? clockText(houseClock(this.state.info), this.now_s, true) : "";
    return html`<lost-screen strip .age_s=${this.age_s} .refusal=${this.refusal} .asOf=${asOf} .todo=${"What a contact does now is not seen here."}></lost-screen>`;
  }

  get #houses() {
    return new Map(this.state?.info.stations.map(({ id, house }) => [id, house]));
  }

  /** @param {ContactState} contacts */
  #call(contacts) {
    return html`
      ${contacts.on ? html`<p class="held">A roll call is on: contacts do not count in the show until it ends.</p>` : nothing}
      <p class="next" role="status" aria-label="Next">${nextText(contacts, this.#houses)}</p>
      <div class="orders">${contacts.on ? this.#leading(contacts) : this.#beginning()}</div>
      <p role="status" aria-label="Answer">${this.answer}</p>
      ${troubles(contacts).map((text) => html`<p class="note">${text}</p>`)}
      <div class="sheet">${this.#table(contacts)}</div>
      ${contacts.result && !contacts.on ? this.#result(contacts.result) : nothing}
      <p class="note">
        Work each contact by its own lever, with lamps out and film standing. Lamp, igniter and motor circuits are for those who are
        licensed for them; keep clear of whatever may move.
      </p>
    `;
  }

  #beginning() {
    return html`
      <button @click=${() => this.#order({ do: "begin" })}>Begin, in any order</button>
      <button @click=${() => this.#order({ do: "begin_in_order" })}>Begin, one after another</button>
    `;
  }

  /** @param {ContactState} contacts */
  #leading({ asked }) {
    return html`
      ${asked === null ? nothing : html`<button @click=${() => this.#order({ do: "skip" })}>Skip this one</button>`}
      <button @click=${() => this.#order({ do: "ask", input: null })}>Any order</button>
      <button @click=${() => this.#order({ do: "end" })}>End the roll call</button>
    `;
  }

  /** @param {ContactState} contacts */
  #table(contacts) {
    return html`<table>
      <caption>
        Inputs, as the wiring file has them
      </caption>
      <thead>
        <tr>
          <th scope="col">Input</th>
          <th scope="col">Wire</th>
          <th scope="col">Now</th>
          <th scope="col">Roll call</th>
          <th scope="col">Remarks</th>
          ${contacts.on ? html`<th scope="col"><span class="unseen">Order</span></th>` : nothing}
        </tr>
      </thead>
      <tbody>
        ${contacts.inputs.map((input) => this.#row(input, contacts))}
      </tbody>
    </table>`;
  }

  /** @param {ContactInput} input @param {ContactState} contacts */
  #row(input, contacts) {
    const name = inputName(input, this.#houses);
    return html`<tr aria-current=${input.id === contacts.asked ? "step" : nothing}>
      <th scope="row">${name}</th>
      <td>${input.id}</td>
      <td ?data-on=${input.on}>${levelText(input)}</td>
      <td>${contacts.result === null ? "" : seenText(input)}</td>
      <td>${remarks(input).join(" ")}</td>
      ${
        contacts.on
          ? html`<td><button aria-label="Close ${name} next" @click=${() => this.#order({ do: "ask", input: input.id })}>This one next</button></td>`
          : nothing
      }
    </tr>`;
  }

  /** @param {string} result */
  #result(result) {
    return html`
      <p class="result">${result}</p>
      <div class="keep">
        <label>Your name, if you like <input .value=${this.by} maxlength="40" autocomplete="off" @change=${this.#named} /></label>
        <button @click=${() => this.#order({ do: "keep" })}>Keep this result</button>
      </div>
    `;
  }

  /** @param {import("./contacts.js").Order} order */
  #order(order) {
    this.dispatchEvent(new CustomEvent("order", { detail: order }));
  }

  /** @param {Event} event */
  #named({ target }) {
    this.by = /** @type {HTMLInputElement} */ (target).value.trim();
    this.dispatchEvent(new CustomEvent("named", { detail: this.by }));
  }
}

customElements.define("rollcall-desk", RollcallDesk);
