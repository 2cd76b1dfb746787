// @ts-check
// Over everything, while the server is not heard: what is below is old, and how old.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { lengthInWords } from "../words/format.js";
import { shared } from "./shared.js";

/** @type {Record<import("../live/connection.js").Refusal, string>} */
const REFUSAL_WORDS = {
  unpaired: "This device is not paired",
  withdrawn: "This device is no longer paired",
  "no run": "This run is no longer live",
};

/** Why nothing is heard. @param {import("../live/connection.js").Refusal | null} refusal */
export function lostInWords(refusal) {
  return refusal ? REFUSAL_WORDS[refusal] : "No word from the server";
}

export class LostScreen extends LitElement {
  /** @override */
  static properties = {
    age_s: { attribute: false },
    asOf: { attribute: false },
    todo: { attribute: false },
    refusal: { attribute: false },
    strip: { type: Boolean, reflect: true },
    told: { type: Boolean },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        position: fixed;
        inset: 0;
        z-index: 10;
        display: grid;
        place-items: center;
        padding: 4vw;
        background: rgba(128, 124, 116, 0.6); /* for browsers before color-mix */
        background: color-mix(in srgb, var(--ground) 84%, transparent);
      }
      /* Around what must stay in reach: a frame on all sides that lets touches through, and the words above. */
      :host([strip]) {
        position: sticky;
        inset: auto;
        top: 0;
        padding: 0;
        background: none;
      }
      :host([strip])::after {
        content: "";
        position: fixed;
        inset: 0;
        border: 0.5rem dashed var(--ink);
        pointer-events: none;
      }
      a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        min-width: 3rem;
        font-weight: 700;
      }
      section {
        background: var(--ink);
        color: var(--ground);
        padding: 2.2rem 3rem 2.4rem;
        width: 100%;
        max-width: 70rem;
        border-radius: 0.5rem;
      }
      /* Never brighter than a tenth of white: it shines into houses. */
      :host([strip]) section {
        background: var(--surface);
        color: var(--ink);
        border-bottom: 3px solid var(--ink-3);
        padding: 0.6rem 1rem;
        max-width: none;
        border-radius: 0;
      }
      h2 {
        font-size: clamp(2rem, 5.5vw, 5.5rem);
        line-height: 1.02;
        letter-spacing: -0.025em;
      }
      p {
        font-size: clamp(1.2rem, 2.4vw, 2.2rem);
        line-height: 1.25;
        margin-top: 1rem;
      }
      :host([strip]) h2 {
        font-size: 1.9rem;
        letter-spacing: -0.01em;
      }
      :host([strip]) p {
        font-size: 1.2rem;
        line-height: 1.25;
        margin: 0;
      }
      /* On a small screen, or on an enlarged one, only its first words stay: the rest scrolls with the page. */
      @media (max-width: 599px), (max-height: 599px) {
        :host([strip]),
        :host([strip]) section {
          display: contents;
        }
        :host([strip]) .what {
          position: sticky;
          top: 0;
          z-index: 7;
          background: var(--surface);
          border-bottom: 3px solid var(--ink-3);
          padding: 0.5rem 0.9rem;
        }
        :host([strip]) h2 {
          font-size: 1.15rem;
          line-height: 1.15;
        }
        :host([strip]) p {
          font-size: 1rem;
          padding: 0.6rem 0.9rem 0;
        }
      }
    `,
  ];

  constructor() {
    super();
    this.age_s = 0;
    this.asOf = "";
    /** What the reader does meanwhile. */
    this.todo = "";
    /** Why the server does not speak to this desk, where it is there. @type {import("../live/connection.js").Refusal | null} */
    this.refusal = null;
    this.strip = false;
    /** Whether the desk reads out by itself that nothing is heard. */
    this.told = false;
  }

  /** @override */
  render() {
    const old = lengthInWords(this.age_s);
    return html`<section aria-label="Connection">
      <div class="what" role=${this.told ? nothing : "alert"}><h2>${lostInWords(this.refusal)}</h2></div>
      ${this.refusal === "unpaired" || this.refusal === "withdrawn" ? html`<p><a href="/pair">Pair this device</a></p>` : nothing}
      ${this.refusal === "no run" ? html`<p>The server is there with another run, or with none. <a href=${location.pathname}>Go to the live run</a></p>` : nothing}
      <p>${this.asOf ? `What this desk shows is ${old} old: it stood so at ${this.asOf}.` : `Nothing was heard for ${old}.`} ${this.todo}</p>
    </section>`;
  }
}

customElements.define("lost-screen", LostScreen);
