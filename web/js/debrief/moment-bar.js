// @ts-check
// How a run is gone through: on and back, played as fast as one likes.

import { LitElement, css, html } from "../../vendor/lit.js";
import { SPEEDS } from "./replay.js";
import { shared } from "../elements/shared.js";

export class MomentBar extends LitElement {
  /** @override */
  static properties = {
    playing: { type: Boolean },
    speed: { attribute: false },
    canStep: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.4rem;
      }
      button {
        flex: none;
        padding: 0.3rem 0.6rem;
      }
      .play {
        min-width: 5.2rem;
        font-weight: 700;
        border-color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    this.playing = false;
    this.speed = 20;
    /** Whether it is known what there is to step to. */
    this.canStep = true;
  }

  /** @override */
  render() {
    return html`
      ${this.#step("alarm", -1, "Alarm before")} ${this.#step("event", -1, "Event before")}
      <button type="button" class="play" @click=${() => this.#say("play", !this.playing)}>${this.playing ? "Pause" : "Play"}</button>
      ${this.#step("event", 1, "Next event")} ${this.#step("alarm", 1, "Next alarm")}
      <label><span class="unseen">Speed</span>${this.#speeds()}</label>
    `;
  }

  /** @param {"event" | "alarm"} kind @param {1 | -1} way @param {string} name */
  #step(kind, way, name) {
    return html`<button type="button" ?disabled=${!this.canStep} @click=${() => this.#say("step", { kind, way })}>${name}</button>`;
  }

  #speeds() {
    const chosen = (/** @type {Event} */ { target }) => this.#say("speed", Number(/** @type {HTMLSelectElement} */ (target).value));
    return html`<select @change=${chosen}>
      ${SPEEDS.map((speed) => html`<option value=${speed} ?selected=${speed === this.speed}>${speed === 1 ? "as fast as it was" : `${speed} times as fast`}</option>`)}
    </select>`;
  }

  /** @param {string} name @param {unknown} detail */
  #say(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail, bubbles: true, composed: true }));
  }
}

customElements.define("moment-bar", MomentBar);
