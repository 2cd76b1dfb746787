// @ts-check
// Pinned under the booth desk: what would be out of sight, a line each.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, countdown } from "../format.js";
import { taskTime } from "../tasktime.js";
import { shared } from "./shared.js";

export class PinnedBar extends LitElement {
  /** @override */
  static properties = {
    pins: { attribute: false },
    alarm: { attribute: false },
    words: { attribute: false },
    step: { attribute: false },
    clock: { attribute: false },
    now_s: { attribute: false },
    lost: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      p {
        display: flex;
        align-items: center;
        gap: 0.5rem;
        margin-bottom: 0.3rem;
        font-weight: 600;
        line-height: 1.15;
      }
      span {
        flex: 1;
        min-width: 0;
        overflow: hidden;
        text-overflow: ellipsis;
        white-space: nowrap;
      }
      .act,
      .watch {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding-left: 0.6rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      button {
        flex: none;
        color: var(--ink);
        font-weight: 600;
      }
      button.step {
        display: flex;
        flex: 1 1 0;
        min-width: 0;
        align-items: center;
        gap: 0.6rem;
        text-align: start;
        border-color: var(--ink);
      }
      b {
        white-space: nowrap;
      }
      /* On a phone the step has a line of its own, so that all of it is read. */
      @media (max-width: 599px) {
        .hand {
          flex-wrap: wrap;
        }
        button.step {
          flex-basis: 100%;
        }
        button.step span {
          white-space: normal;
        }
      }
      .waits {
        font-weight: 400;
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../pinned.js").Pin[]} */
    this.pins = [];
    /** The first alarm, or null. @type {import("../messages.js").Alarm | null} */
    this.alarm = null;
    /** What its block says first. */
    this.words = "";
    /** The next step, or null. @type {import("../steps.js").Step | null} */
    this.step = null;
    /** @type {import("../format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    this.now_s = 0;
    this.lost = false;
  }

  /** @override */
  render() {
    const { alarm, step, pins } = this;
    const has = (/** @type {import("../pinned.js").Pin} */ pin) => pins.includes(pin);
    return html`
      ${has("alarm") && alarm ? this.#alarm(alarm) : nothing}
      ${(has("step") && step) || has("stop") ? html`<p class="hand">${has("step") && step ? this.#step(step) : nothing} ${has("stop") ? this.#stop() : nothing}</p>` : nothing}
    `;
  }

  /** @param {import("../messages.js").Alarm} alarm */
  #alarm(alarm) {
    const { words } = this;
    const acknowledge = () => this.dispatchEvent(new CustomEvent("acknowledge", { detail: alarm.key }));
    return html`<p class=${alarm.level}>
      <span title=${words}>${words}</span>
      ${alarm.state === "acknowledged" ? nothing : html`<button type="button" @click=${acknowledge} aria-label="Acknowledge, pinned: ${words}">Acknowledge</button>`}
    </p>`;
  }

  /** @param {import("../steps.js").Step} step */
  #step({ text, kind, from_s, due_s, done, tapped }) {
    const { left_s } = taskTime({ kind, from_s, due_s }, this.now_s);
    const say = () => this.dispatchEvent(new CustomEvent("tap", { detail: done }));
    const when = this.lost ? `by ${clockText(this.clock, due_s, true)}` : countdown(left_s);
    return html`<button type="button" class="step" aria-disabled=${tapped !== null} @click=${tapped ? nothing : say}>
      <span class=${tapped ? "waits" : ""} title=${text}>${text}</span> <b>${tapped ? "said" : when}</b>
    </button>`;
  }

  #stop() {
    const say = () => this.dispatchEvent(new CustomEvent("tap", { detail: { kind: "chain_stop" } }));
    return html`<button type="button" @click=${say}>All motors stopped</button>`;
  }
}

customElements.define("pinned-bar", PinnedBar);
