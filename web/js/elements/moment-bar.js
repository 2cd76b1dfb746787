// @ts-check
// How a run is gone through: on and back, played as fast as one likes, by what is known now or by what was known then.

import { LitElement, css, html } from "../../vendor/lit.js";
import { SPEEDS } from "../replay.js";
import { shared } from "./shared.js";

export class MomentBar extends LitElement {
  /** @override */
  static properties = {
    playing: { type: Boolean },
    speed: { attribute: false },
    clock: { attribute: false },
    keepsArrivals: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.4rem 0.5rem;
      }
      button {
        padding: 0.3rem 0.7rem;
      }
      .play {
        min-width: 5.2rem;
        font-weight: 700;
        border-color: var(--ink);
      }
      .speed {
        display: flex;
        align-items: center;
        gap: 0.5rem;
        color: var(--ink-2);
      }
      fieldset {
        display: flex;
        border: 0;
        margin: 0 0 0 auto;
        padding: 0;
      }
      .choice {
        display: flex;
        align-items: center;
        gap: 0.45rem;
        min-height: 3rem;
        padding: 0 0.8rem;
        border: 2px solid var(--ink-3);
        cursor: pointer;
      }
      .choice:first-of-type {
        border-radius: 0.4rem 0 0 0.4rem;
      }
      .choice + .choice {
        border-left: 0;
        border-radius: 0 0.4rem 0.4rem 0;
      }
      .chosen {
        background: var(--lit);
        font-weight: 700;
      }
      .choice input {
        min-height: 0;
        min-width: 0;
        width: 1.1rem;
        height: 1.1rem;
        margin: 0;
      }
    `,
  ];

  constructor() {
    super();
    this.playing = false;
    this.speed = 20;
    /** @type {import("../debrief-messages.js").KnownClock} */
    this.clock = "now";
    this.keepsArrivals = true;
  }

  /** @override */
  render() {
    return html`
      ${this.#step("alarm", -1, "Alarm before")} ${this.#step("event", -1, "Event before")}
      <button type="button" class="play" @click=${() => this.#say("play", !this.playing)}>${this.playing ? "Pause" : "Play"}</button>
      ${this.#step("event", 1, "Next event")} ${this.#step("alarm", 1, "Next alarm")}
      <label class="speed">Speed ${this.#speeds()}</label>
      <fieldset>
        <legend class="unseen">What is shown of a moment</legend>
        ${this.#choice("now", "Known now")} ${this.#choice("then", "Known then")}
      </fieldset>
    `;
  }

  /** @param {"event" | "alarm"} kind @param {1 | -1} way @param {string} name */
  #step(kind, way, name) {
    return html`<button type="button" @click=${() => this.#say("step", { kind, way })}>${name}</button>`;
  }

  #speeds() {
    const chosen = (/** @type {Event} */ { target }) => this.#say("speed", Number(/** @type {HTMLSelectElement} */ (target).value));
    return html`<select @change=${chosen}>
      ${SPEEDS.map((speed) => html`<option value=${speed} ?selected=${speed === this.speed}>${speed === 1 ? "as it was" : `${speed} times`}</option>`)}
    </select>`;
  }

  /** @param {import("../debrief-messages.js").KnownClock} clock @param {string} name */
  #choice(clock, name) {
    return html`<label class="choice ${clock === this.clock ? "chosen" : ""}" title=${this.#means(clock)}>
      <input type="radio" name="clock" .checked=${clock === this.clock} @change=${() => this.#say("clock", clock)} />${name}
    </label>`;
  }

  /** @param {import("../debrief-messages.js").KnownClock} clock */
  #means(clock) {
    if (clock === "now") return "All that is known today: what was taken back never was, and a late tap stands at its own time.";
    if (!this.keepsArrivals) return "This recording does not keep when its events arrived: each is taken to have arrived when it happened.";
    return "What the desks knew at that moment: only what had arrived by then.";
  }

  /** @param {string} name @param {unknown} detail */
  #say(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail, bubbles: true, composed: true }));
  }
}

customElements.define("moment-bar", MomentBar);
