// @ts-check
// The paired devices: whose they are, a code for one more, and the end of one.

import { LitElement, css, html, nothing, repeat, svg } from "../../vendor/lit.js";
import { ROLES } from "./pairing.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").PairingLine} PairingLine */

export class PairingDesk extends LitElement {
  /** @override */
  static properties = {
    pairings: { attribute: false },
    code: { attribute: false },
    trouble: { attribute: false },
    done: { attribute: false },
    leaving: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 56rem;
        margin: 0 auto;
        padding: clamp(1rem, 3vw, 2.5rem);
        display: grid;
        gap: 2rem;
      }
      h1 {
        font-size: clamp(1.6rem, 3vw, 2.4rem);
      }
      h2 {
        font-size: 1.3rem;
      }
      section {
        display: grid;
        gap: 0.8rem;
      }
      form {
        display: flex;
        flex-wrap: wrap;
        gap: 1.2rem;
        align-items: start;
      }
      label,
      fieldset {
        display: grid;
        gap: 0.3rem;
      }
      fieldset {
        border: 0;
        margin: 0;
        padding: 0;
      }
      fieldset label {
        display: flex;
        align-items: center;
        gap: 0.6rem;
        min-height: 3rem;
      }
      input[type="radio"] {
        min-width: 1.5rem;
        min-height: 1.5rem;
      }
      .code {
        display: flex;
        flex-wrap: wrap;
        gap: 1.5rem;
        align-items: center;
      }
      .code strong {
        font-size: clamp(2rem, 6vw, 3.4rem);
        letter-spacing: 0.06em;
      }
      svg {
        width: min(18rem, 80vw);
        background: #fff;
        stroke: #000;
      }
      td:nth-child(2) {
        white-space: normal;
      }
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.8rem 1rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {PairingLine[] | null} */
    this.pairings = null;
    /** @type {import("../wire.js").PairingCode | null} */
    this.code = null;
    this.trouble = "";
    /** Whose device was paired by the code that was shown last. */
    this.done = "";
    /** The pairing that the reader began to withdraw. */
    this.leaving = "";
  }

  /** A code was used: it is worth nothing any more. @param {string} name */
  paired(name) {
    this.code = null;
    this.done = name;
  }

  /** @override */
  render() {
    return html`<main>
      <h1>Paired devices</h1>
      <div role="alert">${this.trouble ? html`<p class="trouble">${this.trouble}</p>` : nothing}</div>
      <section aria-label="One more device">
        <h2>One more device</h2>
        ${this.#wish()}
        <div role="status">${this.code ? this.#shown(this.code) : this.done ? html`<p>${this.done}'s device is paired.</p>` : nothing}</div>
      </section>
      <section aria-label="Devices">
        <h2>Devices</h2>
        ${this.#list()}
      </section>
      <p><a href="/">All runs</a></p>
    </main>`;
  }

  #wish() {
    return html`<form @submit=${this.#submit}>
      <label>Whose device it is<input name="name" required maxlength="60" autocomplete="off" /></label>
      <fieldset>
        <legend>What it does</legend>
        ${Object.entries(ROLES).map(([role, does]) => html`<label><input type="radio" name="role" value=${role} ?checked=${role === "look"} />${does}</label>`)}
      </fieldset>
      <button>Make a code</button>
    </form>`;
  }

  /** @param {import("../wire.js").PairingCode} code */
  #shown({ code, name, address, size, path, until }) {
    const clock = new Date(until).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    return html`<div class="code">
      <svg viewBox="0 0 ${size} ${size}" role="img" aria-label="QR code that pairs the device">${svg`<path d=${path} />`}</svg>
      <p>Scan this with ${name}'s device, or open<br /><b>${address}</b><br />on it and enter<br /><strong>${code}</strong><br />Good once, until ${clock}.</p>
    </div>`;
  }

  #list() {
    if (this.pairings === null) return html`<p>Reading the list…</p>`;
    if (this.pairings.length === 0) return html`<p>No device is paired yet: make a code for the first one.</p>`;
    return html`<div class="sheet">
      <table>
        <thead>
          <tr>
            <th scope="col">Whose</th>
            <th scope="col">What it does</th>
            <th scope="col">Paired</th>
            <th scope="col">Until</th>
            <th scope="col">Now</th>
            <th scope="col"><span class="unseen">End</span></th>
          </tr>
        </thead>
        <tbody>
          ${repeat(
            this.pairings,
            ({ id }) => id,
            (pairing) => this.#row(pairing),
          )}
        </tbody>
      </table>
    </div>`;
  }

  /** @param {PairingLine} pairing */
  #row({ id, name, role, created, until, connections, mine }) {
    return html`<tr>
      <th scope="row">${name}${mine ? " (this device)" : ""}</th>
      <td>${ROLES[role]}</td>
      <td>${new Date(created).toLocaleDateString()}</td>
      <td>${new Date(until).toLocaleDateString()}</td>
      <td>${connections ? "connected" : "away"}</td>
      <td>${this.#end(id, name)}</td>
    </tr>`;
  }

  /** A withdrawal is asked for twice: the other device stops at once. @param {string} id @param {string} name */
  #end(id, name) {
    if (this.leaving !== id) return html`<button @click=${() => (this.leaving = id)}>Withdraw ${name}'s pairing</button>`;
    return html`<button @click=${() => this.#withdraw(id)}>Yes, end it now</button>
      <button @click=${() => (this.leaving = "")}>Keep it</button>`;
  }

  /** @param {string} id */
  #withdraw(id) {
    this.leaving = "";
    this.dispatchEvent(new CustomEvent("withdraw", { detail: id }));
  }

  /** @param {SubmitEvent} event */
  #submit(event) {
    event.preventDefault();
    const form = new FormData(/** @type {HTMLFormElement} */ (event.target));
    const detail = { name: String(form.get("name")).trim(), role: String(form.get("role")) };
    this.dispatchEvent(new CustomEvent("wish", { detail }));
  }
}

customElements.define("pairing-desk", PairingDesk);
