// @ts-check
// One link in words, under its loop: its slack, how much film that is, and when its reserve is gone.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { levelBySubject } from "../live/alarms.js";
import { slackAt } from "../picture/estimate.js";
import { aboutText, slackInWords } from "../words/format.js";
import { recovering } from "../live/headline.js";
import { freeEndInWords, lacingOf } from "../booth/lacing.js";
import { linkName } from "../words/names.js";
import { shared } from "./shared.js";

export class LinkCaption extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    place: { attribute: false },
    foldsInto: { attribute: false },
    brief: { type: Boolean, reflect: true },
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
      :host([brief]) {
        padding: 0 0.2rem;
        white-space: nowrap;
      }
      :host([brief]) .act,
      :host([brief]) .watch {
        font-size: inherit;
        padding: 0 0.3rem;
      }
      .folds {
        color: var(--ink-3);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** Which link, in film order. */
    this.place = 0;
    /** The house of the next row that it goes on to, or empty. */
    this.foldsInto = "";
    /** Whether there is room for the slack alone. */
    this.brief = false;
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { state, place, now_s } = this;
    const link = state?.links[place];
    if (!state || !link) return nothing;
    return html`<span class="unseen">${linkName(state.info, link.id)}: </span>${this.#said(state, link, slackAt(link, now_s))}
    ${this.foldsInto && !this.brief ? html`<span class="folds">· on to ${this.foldsInto} below</span>` : nothing}`;
  }

  /** @param {import("../live/store.js").RunState} state @param {import("../wire.js").Link} link @param {number | null} slack_s */
  #said(state, link, slack_s) {
    if (slack_s === null) return html`<span>${freeEndInWords(state, this.place)}</span>`;
    const level = levelBySubject(state.alarms).get(link.id) ?? "note";
    const more = this.brief ? "" : [lacingOf(state, this.place, this.now_s), goneText(link, this.now_s, state.info.horizon_s)].filter(Boolean).join(", ");
    const back = level !== "note" && recovering(state, this.now_s).has(link.id) ? ", recovers" : "";
    return html`<span class=${level}>${slackInWords(slack_s)}${back}</span>${more ? html`<span class=${level === "note" ? "" : "unseen"}>, </span>${more}` : nothing}`;
  }
}

/** When the reserve is likely gone, in words; empty where that is not within the horizon. @param {import("../wire.js").Link} link @param {number} now_s @param {number} horizon_s */
export function goneText(link, now_s, horizon_s) {
  const likely_s = link.gone_s;
  if (likely_s === null || likely_s <= now_s || likely_s > now_s + horizon_s) return "";
  return `${(link.drift ?? 0) < 0 ? "taut" : "on the floor"} in about ${aboutText(likely_s - now_s)}`;
}

customElements.define("link-caption", LinkCaption);
