// @ts-check
// What happened, in a few sentences, each of which leads to its moment; or that the run is still being read.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText } from "../words/format.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("../wire.js").StorySentence} StorySentence
 * @typedef {import("../wire.js").StoryPart} StoryPart
 */

const SAME_S = 0.0005; // half of what the wire tells

export class DebriefStory extends LitElement {
  /** @override */
  static properties = {
    story: { attribute: false },
    clock: { attribute: false },
    at_s: { attribute: false },
    reading: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      li {
        max-width: 62rem;
      }
      button {
        display: block;
        width: 100%;
        padding: 0.45rem 0.8rem;
        border: 0;
        border-left: 0.5rem solid var(--rule);
        border-radius: 0;
        background: none;
        text-align: start;
        font-size: 1.15rem;
        line-height: 1.3;
      }
      button:hover {
        background: var(--surface);
      }
      button[data-level="act"] {
        border-left-color: var(--act);
      }
      button[data-level="watch"] {
        border-left-style: double;
        border-left-color: var(--watch);
      }
      button[aria-current] {
        background: var(--lit);
      }
      time {
        font-variant-numeric: var(--figures);
        font-weight: 700;
      }
      .more,
      .reading {
        color: var(--ink-2);
        padding: 0.3rem 0 0.3rem 1.3rem;
      }
      .more a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        min-width: 3rem;
      }
      .reading::after {
        content: "";
        display: block;
        width: 4rem;
        height: 0.25rem;
        margin-top: 0.3rem;
        background: var(--ink-2);
        animation: going 1.2s ease-in-out infinite alternate;
      }
      @keyframes going {
        to {
          transform: translateX(12rem);
        }
      }
      @media (prefers-reduced-motion: reduce) {
        .reading::after {
          animation: none;
        }
      }
      @media (max-width: 599px) {
        button {
          font-size: 1rem;
          padding: 0.4rem 0.6rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").Story | null} */
    this.story = null;
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.at_s = 0;
    /** What is being read, or empty. */
    this.reading = "";
  }

  /** @override */
  render() {
    const { story, reading } = this;
    return html`
      ${story ? html`<ol aria-label="What happened">${story.sentences.map((sentence) => this.#sentence(sentence))}</ol>` : nothing}
      ${story?.more ? html`<p class="more">${story.more} <a href="#read">Read it</a></p>` : nothing}
      ${reading ? html`<p class="reading" role="status">${reading}</p>` : nothing}
    `;
  }

  /** @param {StorySentence} sentence */
  #sentence({ at_s, level, parts }) {
    const here = Math.abs(at_s - this.at_s) < SAME_S;
    const go = () => this.dispatchEvent(new CustomEvent("seek", { detail: at_s, bubbles: true, composed: true }));
    return html`<li>
      <button type="button" data-level=${level ?? "none"} aria-current=${here ? "time" : nothing} @click=${go}>${parts.map((part) => this.#part(part))}</button>
    </li>`;
  }

  /** @param {StoryPart} part */
  #part({ text, at_s, seconds }) {
    return at_s === null ? text : html`<time>${clockText(this.clock, at_s, seconds, true)}</time>`;
  }
}

customElements.define("debrief-story", DebriefStory);
