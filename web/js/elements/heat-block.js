// @ts-check
// Film that stands in the light: one block for all its houses, before anything else.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { CAUTIONS } from "../live/cautions.js";
import { countdown, houseClock, timeText } from "../words/format.js";
import { heatFrom, heatInWords } from "../live/heat.js";
import { numberOf } from "../words/names.js";
import { shared } from "./shared.js";

/** @typedef {import("../wire.js").Alarm} Alarm */

export class HeatBlock extends LitElement {
  /** @override */
  static properties = {
    alarms: { attribute: false },
    info: { attribute: false },
    now_s: { attribute: false },
    lost: { attribute: false },
    inHand: { type: Boolean, attribute: "in-hand" },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      section {
        padding: 0.6rem 1rem 0.7rem;
        border-radius: 0.4rem;
        border: 3px solid var(--watch);
        background: var(--ground);
      }
      :host(:not([in-hand])) section {
        margin-bottom: 0.5rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      .level {
        font-weight: 700;
      }
      .todo {
        font-size: var(--far-heat, 1.7rem);
        line-height: 1.1;
        font-weight: 700;
        text-wrap: balance;
        -webkit-line-clamp: var(--lines-todo, none);
      }
      .text {
        font-size: 1.15rem;
        line-height: 1.25;
        margin-top: 0.2rem;
        -webkit-line-clamp: var(--lines-caution, none);
      }
      .acknowledge {
        float: right;
        margin: 0 0 0.2rem 0.8rem;
      }
      .shut {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.4rem;
        margin-top: 0.4rem;
      }
      button {
        color: var(--ink);
        font-weight: 700;
      }
      .caution {
        font-size: 0.9rem;
        margin-top: 0.3rem;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Alarm[]} */
    this.alarms = [];
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    this.now_s = 0;
    /** Whether the server is away: then nothing is counted. */
    this.lost = false;
    /** Whether it can be answered here. */
    this.inHand = false;
  }

  /** @override */
  render() {
    const { info } = this;
    const heat = info ? heatFrom(this.alarms, info) : [];
    const [worst] = heat;
    if (!worst || !info) return nothing;
    const { todo, text } = heatInWords(heat, info);
    return html`<section class=${worst.level} aria-label="Film in the light">
      ${this.inHand ? this.#acknowledge(heat, todo) : nothing}
      <p class="level">${this.#heading(heat, info)}</p>
      <p class="todo ${this.inHand ? "" : "clamped"}">${todo}</p>
      <p class="text ${this.inHand ? "" : "clamped"}">${text}</p>
      ${this.inHand ? this.#shut(heat, info) : nothing}
    </section>`;
  }

  /** @param {Alarm[]} heat @param {import("../wire.js").RunInfo} info */
  #heading(heat, info) {
    const since_s = Math.min(...heat.map((alarm) => alarm.since_s));
    const stood = this.lost ? "" : ` · ${countdown(since_s - this.now_s)} over`;
    const said = `${heat[0]?.level === "act" ? "Act now" : "Watch"} · since ${timeText(houseClock(info), since_s, this.now_s, true)}${stood}`;
    if (heat.some(({ state }) => state !== "acknowledged")) return said;
    const names = [...new Set(heat.flatMap(({ acked_by }) => acked_by ?? []))];
    return `${said} · acknowledged${names.length ? ` by ${names.join(", ")}` : ""}`;
  }

  /** One touch for all of them. @param {Alarm[]} heat @param {string} todo */
  #acknowledge(heat, todo) {
    const open = heat.filter(({ state }) => state !== "acknowledged");
    if (open.length === 0) return nothing;
    const acknowledge = () => open.forEach(({ key }) => this.dispatchEvent(new CustomEvent("acknowledge", { detail: key })));
    return html`<button type="button" class="acknowledge" @click=${acknowledge} aria-label="Acknowledge: ${todo}">Acknowledge</button>`;
  }

  /** @param {Alarm[]} heat @param {import("../wire.js").RunInfo} info */
  #shut(heat, info) {
    const shut = (/** @type {string} */ station) => () => this.dispatchEvent(new CustomEvent("tap", { detail: { kind: "douser_shut", station } }));
    return html`<div class="shut" role="group" aria-label="Touch when it is shut">
        <span>Shut at</span>
        ${repeat(
          heat,
          ({ key }) => key,
          ({ subject }) =>
            html`<button type="button" @click=${shut(subject)} aria-label="House ${numberOf(info, subject)}: douser shut">${numberOf(info, subject)}</button>`,
        )}
      </div>
      <p class="caution">${CAUTIONS.shut_douser}</p>`;
  }
}

customElements.define("heat-block", HeatBlock);
