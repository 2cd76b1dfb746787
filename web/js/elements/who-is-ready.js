// @ts-check
// Who is waited for before the first start, largest in the last minute; and in hand one touch for each station by which it is
// said to be ready, with what that means. Each leaves as a `tap` event.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { houseClock, timeText } from "../words/format.js";
import { asksReady, isLastMinute, notReady } from "../live/ready.js";
import { READY_MEANS, WAITS, readyRows } from "../live/restart.js";
import { shared } from "./shared.js";

/** @typedef {import("../live/restart.js").ReadyRow} ReadyRow */

export class WhoIsReady extends LitElement {
  /** @override */
  static properties = {
    card: { attribute: false },
    ours: { attribute: false },
    state: { attribute: false },
    lines: { attribute: false },
    now_s: { attribute: false },
    inHand: { type: Boolean, attribute: "in-hand", reflect: true },
    last: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      .who {
        font-size: 1.5rem;
        line-height: 1.15;
        font-weight: 700;
        color: var(--ink);
        margin: 0.2rem 0;
      }
      :host([in-hand]) .who {
        font-size: 1.15rem;
      }
      :host([last]) .who {
        font-size: 3rem;
        border-left: 0.4rem solid var(--watch);
        padding-left: 0.6rem;
      }
      :host([in-hand][last]) .who {
        font-size: 1.7rem;
      }
      .means {
        font-size: 0.95rem;
        line-height: 1.3;
        color: var(--ink-2);
        padding-bottom: 0.3rem;
      }
      .touches {
        display: grid;
        grid-template-columns: repeat(auto-fill, minmax(7.2rem, 1fr));
        gap: 0.4rem;
      }
      button {
        color: var(--ink);
        min-height: 3.6rem;
        padding: 0.3rem 0.6rem;
        text-align: start;
      }
      b,
      small {
        display: block;
        line-height: 1.2;
      }
      b {
        font-size: 1.15rem;
      }
      small {
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      /* What was touched keeps its size and place: nothing else comes under the finger. */
      [aria-disabled="true"] {
        border: 2px dashed var(--ink-2);
        background: none;
        cursor: default;
      }
      .so {
        border: 2px solid transparent;
        background: var(--lit);
      }
      @media (max-width: 1599px) {
        :host(:not([in-hand])[last]) .who {
          font-size: 2rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").RestartCard | null} */
    this.card = null;
    /** What of it can be touched here. @type {import("../wire.js").RestartCard | null} */
    this.ours = null;
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** Who did what. @type {import("../booth/taps.js").LogLine[]} */
    this.lines = [];
    this.now_s = 0;
    /** Whether it can be answered here. */
    this.inHand = false;
    this.last = false;
  }

  /** @override */
  willUpdate() {
    this.last = this.card !== null && isLastMinute(this.card, this.now_s);
  }

  /** @override */
  render() {
    const { card, ours, state } = this;
    if (!card || !ours || !state) return nothing;
    const waited = notReady(card, state.info);
    return html`${waited ? html`<p class="who">Not ready: ${waited}</p>` : nothing}
      ${this.inHand ? this.#touches(card, ours, state) : nothing}`;
  }

  /** @param {import("../wire.js").RestartCard} card @param {import("../wire.js").RestartCard} ours @param {import("../live/store.js").RunState} state */
  #touches(card, ours, state) {
    const alone = asksReady(card) ? "" : " One touch each; a crew of one may do without.";
    return html`<p class="means">Ready: ${READY_MEANS}.${alone}</p>
      <div class="touches" role="group" aria-label="Stations that are ready">
        ${repeat(
          readyRows(ours, state, this.lines, this.now_s),
          ({ station }) => station,
          (row) => this.#station(row, houseClock(state.info)),
        )}
      </div>`;
  }

  /** @param {ReadyRow} row @param {import("../words/format.js").HouseClock} clock */
  #station({ name, ready_s, ready_by, touch }, clock) {
    const { done, isSo, tapped } = touch;
    const isShut = isSo || tapped !== null;
    const tap = () => isShut || this.dispatchEvent(new CustomEvent("tap", { detail: done }));
    const said = ready_s === null ? (tapped ? WAITS : "not yet") : `✓ ${timeText(clock, ready_s, this.now_s)}${ready_by ? ` ${ready_by}` : ""}`;
    return html`<button type="button" class=${isSo ? "so" : ""} aria-disabled=${isShut} @click=${tap} aria-label="${name}: ready${isSo ? ", done" : tapped ? `, said: ${WAITS}` : ""}">
      <b>${name}</b> <small>${said}</small>
    </button>`;
  }
}

customElements.define("who-is-ready", WhoIsReady);
