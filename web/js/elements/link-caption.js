// @ts-check
// One link in words, under its loop: its slack, and when its reserve is gone.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { slackAt } from "../estimate.js";
import { countdown, slackInWords } from "../format.js";
import { shared } from "./shared.js";

export class LinkCaption extends LitElement {
  /** @override */
  static properties = {
    link: { attribute: false },
    level: { attribute: false },
    horizon_s: { attribute: false },
    foldsInto: { attribute: false },
    now_s: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        text-align: center;
        font-size: 0.85rem;
        color: var(--ink-2);
        padding: 0.1rem 0.6rem;
        line-height: 1.25;
      }
      .act,
      .watch {
        display: inline-block;
        padding: 0.1rem 0.5rem;
        font-weight: 700;
        font-size: 1rem;
        border-radius: 0.25rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
      }
      .watch {
        border: 2px solid var(--watch);
        color: var(--ink);
      }
      .folds {
        color: var(--ink-3);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../messages.js").Link | null} */
    this.link = null;
    /** @type {import("../messages.js").Level | null} */
    this.level = null;
    /** How far ahead a forecast is worth telling. */
    this.horizon_s = 0;
    this.foldsInto = "";
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { link } = this;
    if (!link) return nothing;
    const slack_s = slackAt(link, this.now_s);
    return html`
      <span class=${this.level ?? "note"}>${slackInWords(slack_s)}</span>
      ${goneText(link, this.now_s, this.horizon_s)} ${this.foldsInto ? html`<span class="folds">· on to ${this.foldsInto} below</span>` : nothing}
    `;
  }
}

/** When the reserve is likely gone, in words; empty where that is not within the horizon. @param {import("../messages.js").Link} link @param {number} now_s @param {number} horizon_s */
export function goneText(link, now_s, horizon_s) {
  const likely_s = link.gone_s[1];
  if (likely_s === null || likely_s <= now_s || likely_s > now_s + horizon_s) return "";
  return `${link.drift < 0 ? "taut" : "on the floor"} in about ${countdown(likely_s - now_s)}`;
}

customElements.define("link-caption", LinkCaption);
