// @ts-check
// The head of a desk: which run, and the house's clock.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, houseClock } from "../format.js";
import { shared } from "./shared.js";

export class RunHeader extends LitElement {
  /** @override */
  static properties = { info: { attribute: false }, said: { attribute: false }, now_s: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        align-items: baseline;
        gap: 1.2rem;
      }
      /* However much is said, the clock stays in the first line. */
      div {
        flex: 1;
        min-width: 0;
        display: flex;
        align-items: baseline;
        gap: 0.3rem 1.2rem;
        flex-wrap: wrap;
      }
      h1 {
        font-size: 1.5rem;
        line-height: 1.1;
        font-weight: 700;
        letter-spacing: -0.01em;
      }
      .site,
      .said {
        color: var(--ink-2);
      }
      .demo {
        border: 2px dashed var(--ink-2);
        border-radius: 0.3rem;
        padding: 0 0.6rem;
        font-weight: 600;
      }
      time {
        font-size: 2.6rem;
        line-height: 1;
        font-weight: 600;
        letter-spacing: -0.02em;
      }
      @media (max-width: 1599px) {
        h1 {
          font-size: 1.2rem;
        }
        time {
          font-size: 1.8rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../messages.js").RunInfo | null} */
    this.info = null;
    this.said = "";
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { info } = this;
    if (!info) return nothing;
    return html`
      <div>
        <h1>${info.title}</h1>
        ${info.site ? html`<span class="site">${info.site}</span>` : nothing}
        ${info.demo ? html`<span class="demo">Demo: a simulated run${info.speed === 1 ? "" : ` at ${info.speed} times speed`}</span>` : nothing}
        <span class="said">${this.said}</span>
      </div>
      <time>${clockText(houseClock(info), this.now_s, true)}</time>
    `;
  }
}

customElements.define("run-header", RunHeader);
