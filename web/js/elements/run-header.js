// @ts-check
// The head of a desk: which run, and the house's clock.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, houseClock } from "../words/format.js";
import { shared } from "./shared.js";

const LONG = 70; // letters of a headline that stand at full size: chosen

export class RunHeader extends LitElement {
  /** @override */
  static properties = { info: { attribute: false }, headline: { attribute: false }, said: { attribute: false }, now_s: { attribute: false } };

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
      .headline {
        flex: 1 1 100%;
        font-size: var(--far-headline, 2.1rem);
        line-height: 1.12;
        font-weight: 600;
        text-wrap: balance;
        overflow-wrap: anywhere;
        -webkit-line-clamp: var(--lines-headline, none);
      }
      .act,
      .watch {
        border-radius: 0.3rem;
        padding: 0.05em 0.4em;
        border: 3px solid var(--watch);
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      .calm {
        font-weight: 500;
        color: var(--ink-2);
      }
      .headline.long {
        font-size: var(--far, 1.3rem);
      }
      .headline + h1 {
        font-size: 1rem;
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
          font-size: var(--far-clock, 1.8rem);
        }
        .headline {
          font-size: var(--far-headline, 1.5rem);
        }
      }
      /* On a phone the clock has a line of its own, and the headline the whole width. */
      @media (max-width: 599px) {
        :host {
          flex-direction: column-reverse;
          align-items: stretch;
          gap: 0.3rem;
        }
        time {
          align-self: flex-end;
          font-size: 1.6rem;
        }
        .headline {
          font-size: 1.5rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    /** What is said before all else, or null. @type {import("../live/headline.js").Headline | null} */
    this.headline = null;
    this.said = "";
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { info } = this;
    if (!info) return nothing;
    return html`
      <div>
        ${this.headline ? html`<p class="headline clamped ${this.headline.kind} ${this.headline.text.length > LONG ? "long" : ""}">${this.headline.text}</p>` : nothing}
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
