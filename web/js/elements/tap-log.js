// @ts-check
// What was tapped, latest first, and which of three each tap is: waiting to be sent, taken, or refused and why.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { clockText, houseClock } from "../format.js";
import { eventInWords } from "../words.js";
import { shared } from "./shared.js";

/** @typedef {import("../taps.js").TapLine} TapLine */

/** @type {Record<TapLine["state"], string>} */
const STATE_WORDS = {
  waiting: "waiting to be sent",
  taken: "taken",
  refused: "refused",
  retracting: "taking back: waiting to be sent",
  retracted: "taken back",
};

export class TapLog extends LitElement {
  /** @override */
  static properties = {
    lines: { attribute: false },
    info: { attribute: false },
    latest: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      li {
        display: flex;
        align-items: center;
        justify-content: space-between;
        gap: 0.6rem;
        min-height: 3.4rem;
        border-bottom: 1px solid var(--rule);
        font-size: 0.95rem;
        line-height: 1.25;
      }
      :host([latest]) li {
        border: 0;
        font-size: 1.25rem;
      }
      .state {
        display: inline-block;
        padding: 0 0.4rem;
        border-radius: 0.25rem;
        border: 2px solid transparent;
      }
      .waiting .state,
      .retracting .state {
        border: 2px dashed var(--ink-2);
      }
      .refused .state {
        background: var(--act);
        color: var(--act-ink);
        font-weight: 700;
      }
      .taken .state {
        padding-left: 0;
        color: var(--ink-2);
      }
      .retracted .what {
        text-decoration: line-through;
        color: var(--ink-2);
      }
      time {
        color: var(--ink-2);
      }
      button {
        flex: none;
      }
      p {
        color: var(--ink-2);
        padding: 0.7rem 0;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {TapLine[]} */
    this.lines = [];
    /** @type {import("../messages.js").RunInfo | null} */
    this.info = null;
    /** Whether this is the one line that answers a tap. */
    this.latest = false;
  }

  /** @override */
  render() {
    const { info } = this;
    if (!info) return nothing;
    return html`<div role=${this.latest ? "status" : "group"} aria-label=${this.latest ? "Latest tap" : "Earlier taps"}>
      ${this.lines.length ? nothing : html`<p>${this.latest ? "No tap yet: each tap is answered here." : ""}</p>`}
      <ul>
        ${repeat(this.lines, ({ event }) => event.id, (each) => this.#line(each, info))}
      </ul>
    </div>`;
  }

  /** @param {TapLine} each @param {import("../messages.js").RunInfo} info */
  #line({ event, state, reason }, info) {
    const said = eventInWords(event, info);
    const at_s = (Date.parse(event.t) - Date.parse(info.zero)) / 1000;
    const takeBack = () => this.dispatchEvent(new CustomEvent("takeback", { detail: event.id }));
    const open = (state === "taken" || state === "waiting") && event.kind !== "ack";
    return html`<li class=${state}>
      <span>
        <span class="what">${said}</span> <time>${clockText(houseClock(info), at_s, true)}</time>${event.by ? ` by ${event.by}` : ""}
        <span class="state">${state === "taken" ? "✓ " : ""}${STATE_WORDS[state]}${reason ? `: ${reason}` : ""}</span>
      </span>
      ${open ? html`<button type="button" @click=${takeBack} aria-label="Take back ${said}">Take back</button>` : nothing}
    </li>`;
  }
}

customElements.define("tap-log", TapLog);
