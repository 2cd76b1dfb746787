// @ts-check
// What was called out at this desk, and whether somebody has heard it.

import { LitElement, css, html, repeat } from "../../vendor/lit.js";
import { becameInWords } from "./calls.js";
import { capital } from "../words/format.js";
import { boothName } from "../words/names.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./calls.js").SaidCall} SaidCall */

export class CallList extends LitElement {
  /** @override */
  static properties = { calls: { attribute: false }, clock: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      li {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.2rem 0.8rem;
        min-height: 2rem;
        font-size: 1.05rem;
        line-height: 1.25;
      }
      li > span {
        flex: 1 1 12rem;
        min-width: 0;
        overflow-wrap: anywhere;
      }
      .heard {
        color: var(--ink-2);
      }
      .heard b {
        font-weight: 400;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {SaidCall[]} */
    this.calls = [];
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
  }

  /** @override */
  render() {
    return html`<div role="group" aria-label="Called from here">
      <ul>
        ${repeat(
          this.calls,
          ({ line }) => line.event.id,
          (said) => this.#call(said),
        )}
      </ul>
    </div>`;
  }

  /** @param {SaidCall} said */
  #call(said) {
    const { event } = said.line;
    return html`<li class=${said.heard ? "heard" : ""}>
      <span>${capital(boothName(event.to ?? "all"))}: ${event.text} · <b>${said.heard ? "✓ " : ""}${becameInWords(said, this.clock)}</b></span>
    </li>`;
  }
}

customElements.define("call-list", CallList);
