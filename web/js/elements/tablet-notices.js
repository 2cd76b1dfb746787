// @ts-check
// What this tablet does not do for its reader: no sound yet, a screen that may go dark, no copy of the desk.

import { LitElement, css, html } from "../../vendor/lit.js";
import { deskAddress } from "../live/runs.js";
import { shared } from "./shared.js";

const SOUNDS = { on: "", off: "Sound is off: touch the screen once", none: "This browser makes no sound: look at the desk" };
const SHELLS = {
  kept: "",
  fetching: "Still fetching a copy of this desk",
  none: "No copy of this desk here: do not reload it without a connection",
};

export class TabletNotices extends LitElement {
  /** @override */
  static properties = {
    sound: { attribute: false },
    awake: { attribute: false },
    shell: { attribute: false },
    keepsTaps: { attribute: false },
    otherRuns: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      ul {
        display: flex;
        flex-wrap: wrap;
        gap: 0.1rem 1rem;
        font-size: 0.95rem;
        color: var(--ink-2);
      }
      a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
      }
      .sound {
        color: var(--ink);
        font-weight: 700;
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
    this.keepsTaps = true;
    /** Other runs for which taps wait here. @type {string[]} */
    this.otherRuns = [];
  }

  /** @override */
  render() {
    return html`<ul aria-label="What this tablet does not do">
      ${this.#missing().map(({ what, text }) => html`<li class=${what}>${text}</li>`)}
      ${this.otherRuns.map((run) => html`<li><a href=${deskAddress("booth", run)}>Taps for ${run} wait to be sent</a></li>`)}
    </ul>`;
  }

  #missing() {
    return [
      { what: "sound", text: SOUNDS[this.sound] },
      { what: "awake", text: this.awake ? "" : "This screen may go dark by itself" },
      { what: "shell", text: SHELLS[this.shell] },
      { what: "taps", text: this.keepsTaps ? "" : "This browser keeps no taps: one that waits is lost at a reload" },
    ].filter(({ text }) => text);
  }
}

customElements.define("tablet-notices", TabletNotices);
