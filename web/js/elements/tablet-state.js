// @ts-check
// What this tablet does and does not do for its reader: sound, a screen that stays on, a copy of the desk. What is missing is said.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { shared } from "./shared.js";
import "./name-form.js";

export class TabletState extends LitElement {
  /** @override */
  static properties = {
    sound: { attribute: false },
    awake: { attribute: false },
    shell: { attribute: false },
    keepsTaps: { attribute: false },
    account: { attribute: false },
    by: { attribute: false },
    dark: { attribute: false },
    renaming: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 1rem;
      }
      name-form {
        flex: 1 1 22rem;
      }
      details[open] {
        flex-basis: 100%;
      }
      .missing {
        display: flex;
        flex-wrap: wrap;
        gap: 0.3rem 0.6rem;
        font-size: 0.95rem;
        color: var(--ink-2);
      }
      .missing li {
        border-left: 3px solid var(--watch);
        padding-left: 0.5rem;
      }
      .missing .sound {
        color: var(--ink);
        font-weight: 700;
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
    /** @type {import("../signals.js").SoundState} */
    this.sound = "off";
    this.awake = false;
    /** @type {import("../shell.js").ShellState} */
    this.shell = "fetching";
    this.keepsTaps = true;
    /** For whom the device is paired. @type {string | null} */
    this.account = null;
    /** Who taps; empty for nobody in particular, null where it was never asked. @type {string | null} */
    this.by = null;
    this.dark = true;
    this.renaming = false;
  }

  /** @override */
  render() {
    const { account, by } = this;
    const asked = account !== null || (by !== null && !this.renaming);
    return html`
      <p class="unseen" role="status">${this.sound === "on" ? "Sound is on" : "Sound is off"}</p>
      <ul class="missing" aria-label="What is missing on this tablet">
        ${this.#missing().map(({ what, text }) => html`<li class=${what}>${text}</li>`)}
      </ul>
      ${asked ? nothing : html`<name-form .by=${by ?? ""} @named=${this.#named}></name-form>`}
      <details>
        <summary>This tablet</summary>
        <div class="choices">
          <span>${account ?? by ? `Taps are by ${account ?? by}` : "Taps have no name"}</span>
          ${account === null ? html`<button type="button" @click=${() => (this.renaming = true)}>Change the name</button>` : nothing}
          <button type="button" @click=${() => this.#tell("try", "act")}>Try the sound of act</button>
          <button type="button" @click=${() => this.#tell("try", "watch")}>Try the sound of watch</button>
          <button type="button" aria-pressed=${this.dark} @click=${() => this.#tell("dark", !this.dark)}>Always dark</button>
          ${this.awake ? html`<span>The screen stays on.</span>` : nothing}
          ${this.shell === "kept" ? html`<span>This desk loads without a connection.</span>` : nothing}
        </div>
      </details>
    `;
  }

  #missing() {
    const sounds = { on: "", off: "Sound is off: touch the screen once", none: "This browser makes no sound: look at the desk" };
    const shells = { kept: "", fetching: "Still fetching a copy of this desk", none: "No copy of this desk here: do not reload it without a connection" };
    return [
      { what: "sound", text: sounds[this.sound] },
      { what: "awake", text: this.awake ? "" : "This screen may go dark by itself" },
      { what: "shell", text: shells[this.shell] },
      { what: "taps", text: this.keepsTaps ? "" : "This browser keeps no taps: one that waits is lost at a reload" },
    ].filter(({ text }) => text);
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
