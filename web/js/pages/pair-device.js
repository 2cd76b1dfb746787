// @ts-check
// What an unpaired device shows in place of a desk: where to get a code, and where to enter it.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { ROLES } from "./pairing.js";
import { shared } from "../elements/shared.js";

export class PairDevice extends LitElement {
  /** @override */
  static properties = {
    me: { attribute: false },
    code: { attribute: false },
    wantsName: { attribute: false },
    trouble: { attribute: false },
    busy: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 36rem;
        margin: 0 auto;
        padding: clamp(1rem, 4vw, 3rem);
        display: grid;
        gap: 1.2rem;
      }
      h1 {
        font-size: clamp(1.6rem, 5vw, 2.4rem);
      }
      form {
        display: grid;
        gap: 1.2rem;
        justify-items: start;
      }
      label {
        display: grid;
        gap: 0.3rem;
      }
      input {
        font-size: 1.5rem;
        width: min(16rem, 100%);
      }
      .code {
        text-transform: uppercase;
        letter-spacing: 0.08em;
      }
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.8rem 1rem;
      }
      .onward {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        font-size: 1.3rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").Me | null} */
    this.me = null;
    this.code = "";
    /** The code was made for nobody by name: the reader says whose device it is. */
    this.wantsName = false;
    this.trouble = "";
    this.busy = false;
  }

  /** @override */
  render() {
    return html`<main>${this.me ? this.#paired(this.me) : this.#form()}</main>`;
  }

  /** @param {import("../wire.js").Me} me */
  #paired({ name, role, local }) {
    const here = role === "report" ? "/lobby" : location.pathname === "/pair" ? "/" : location.pathname + location.search;
    return html`<h1>${local ? "This computer needs no pairing" : "This device is paired"}</h1>
      <p role="status">${name ? `It is ${name}'s, and ${ROLES[role]}.` : `It ${ROLES[role]}.`}</p>
      <a class="onward" href=${here}>Go on to the desk</a>`;
  }

  #form() {
    return html`<h1>Pair this device</h1>
      <p>
        Festoon shows nothing to a device that it does not know. Get a code from a paired booth desk, on its page of paired devices. Or get one on the computer that Festoon runs on: <code>festoon pair NAME</code>.
      </p>
      <div role="alert">${this.trouble ? html`<p class="trouble">${this.trouble}</p>` : nothing}</div>
      <form @submit=${this.#submit}>
        <label
          >Code
          <input
            class="code"
            name="code"
            required
            maxlength="20"
            autocomplete="off"
            autocapitalize="characters"
            spellcheck="false"
            .value=${this.code}
        /></label>
        ${this.wantsName ? html`<label>Whose device this is<input name="name" required maxlength="60" autocomplete="off" /></label>` : nothing}
        <button ?disabled=${this.busy}>${this.busy ? "Pairing…" : "Pair"}</button>
      </form>`;
  }

  /** @param {SubmitEvent} event */
  #submit(event) {
    event.preventDefault();
    const form = new FormData(/** @type {HTMLFormElement} */ (event.target));
    const detail = { code: String(form.get("code")).trim(), name: String(form.get("name") ?? "").trim() };
    this.dispatchEvent(new CustomEvent("code", { detail }));
  }
}

customElements.define("pair-device", PairDevice);
