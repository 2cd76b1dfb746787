// @ts-check
// What the keys do where a run is gone through, and what its two clocks are.

import { LitElement, css, html } from "../../vendor/lit.js";
import { clockInWords } from "./clock-switch.js";
import { shared } from "../elements/shared.js";

export class KeysHelp extends LitElement {
  /** @override */
  static properties = { keepsArrivals: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        max-width: 46rem;
      }
      p {
        padding-bottom: 0.5rem;
        color: var(--ink-2);
      }
      kbd {
        font: inherit;
        border: 1px solid var(--ink-3);
        border-radius: 0.25rem;
        padding: 0 0.35rem;
        color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    this.keepsArrivals = true;
  }

  /** @override */
  render() {
    return html`<details>
      <summary>Keys, and what the two clocks are</summary>
      <p>
        <kbd>Space</kbd> plays and pauses. <kbd>←</kbd> and <kbd>→</kbd> go to the event before and after, with <kbd>Shift</kbd> to the alarm
        before and after. On the chart <kbd>Page Up</kbd> and <kbd>Page Down</kbd> go a minute, <kbd>Home</kbd> and <kbd>End</kbd> to the ends. Drag to choose a moment, turn the wheel or pull with two fingers to look closer.
      </p>
      <p>${clockInWords("now", this.keepsArrivals)} ${clockInWords("then", this.keepsArrivals)}</p>
    </details>`;
  }
}

customElements.define("keys-help", KeysHelp);
