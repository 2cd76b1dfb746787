// @ts-check
// Who taps at this tablet, and what it does for its reader: sounds to try, a screen that stays on, a copy of the desk.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";
import "./name-form.js";

export class TabletState extends LitElement {
  /** @override */
  static properties = {
    sound: { attribute: false },
    awake: { attribute: false },
    shell: { attribute: false },
    account: { attribute: false },
    by: { attribute: false },
    dark: { attribute: false },
    renaming: { state: true },
    opened: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex: 1 1 0;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 1rem;
        min-width: 14rem;
      }
      :host([wide]) {
        flex-basis: 100%;
      }
      [aria-pressed="true"] {
        border-color: var(--ink);
        background: var(--lit);
        font-weight: 700;
      }
      name-form {
        flex: 1 1 22rem;
      }
      details[open] {
        flex-basis: 100%;
      }
      .choices {
        display: flex;
        flex-wrap: wrap;
        gap: 0.5rem;
        align-items: center;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../live/signals.js").SoundState} */
    this.sound = "off";
    this.awake = false;
    /** @type {import("../pages/shell.js").ShellState} */
    this.shell = "fetching";
    /** For whom the device is paired. @type {string | null} */
    this.account = null;
    /** Who taps; empty for nobody in particular, null where it was never asked. @type {string | null} */
    this.by = null;
    this.dark = true;
    this.renaming = false;
    this.opened = false;
  }

  /** @override */
  updated() {
    this.toggleAttribute("wide", this.opened || !this.#asked());
  }

  #asked() {
    return this.account !== null || (this.by !== null && !this.renaming);
  }

  /** @override */
  render() {
    const { account, by } = this;
    const asked = this.#asked();
    return html`
      ${asked ? nothing : html`<name-form .by=${by ?? ""} @named=${this.#named}></name-form>`}
      <details @toggle=${this.#toggled}>
        <summary>This tablet</summary>
        <div class="choices">
          <span>${(account ?? by) ? `Taps are by ${account ?? by}` : "Taps have no name"}</span>
          ${account === null ? html`<button type="button" @click=${() => (this.renaming = true)}>Change the name</button>` : nothing}
          <button type="button" @click=${() => this.#tell("try", "act")}>Try the sound of act</button>
          <button type="button" @click=${() => this.#tell("try", "call")}>Try the sound of a call</button>
          <button type="button" @click=${() => this.#tell("try", "watch")}>Try the sound of watch</button>
          <button type="button" aria-pressed=${this.dark} @click=${() => this.#tell("dark", !this.dark)}>Always dark</button>
          ${this.sound === "on" ? html`<span>Sound is on.</span>` : nothing}
          ${this.awake ? html`<span>The screen stays on.</span>` : nothing}
          ${this.shell === "kept" ? html`<span>This desk loads without a connection.</span>` : nothing}
        </div>
      </details>
    `;
  }

  /** @param {Event} event */
  #toggled({ target }) {
    this.opened = /** @type {HTMLDetailsElement} */ (target).open;
  }

  /** @param {CustomEvent<string>} event */
  #named({ detail }) {
    this.renaming = false;
    this.#tell("named", detail);
  }

  /** @param {string} name @param {unknown} detail */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

customElements.define("tablet-state", TabletState);
