// @ts-check
// The taps for one station, or for the whole chain. Each tap leaves as a `tap` event with what was seen.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { countdown, slackInWords } from "../format.js";
import { marksToCome } from "../next.js";
import { KIND_WORDS } from "../words.js";
import { shared } from "./shared.js";

/** @typedef {import("../outbox.js").Observation} Observation */

const MARKS_AT_HAND = 2; // the other marks are one touch further: chosen

/** What a prompt is answered with. @type {Record<string, string>} */
const ANSWERS = { start: "motor_start", strike: "lamp_lit", open_douser: "douser_open", shut_lamp: "lamp_out" };

export class TapButtons extends LitElement {
  /** @override */
  static properties = {
    station: { attribute: false },
    link: { attribute: false },
    info: { attribute: false },
    prompt: { attribute: false },
    now_s: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      .taps {
        display: grid;
        grid-template-columns: repeat(2, minmax(0, 1fr));
        gap: 0.5rem;
      }
      .taps button {
        min-height: 4.2rem;
        font-size: 1.25rem;
        font-weight: 600;
        line-height: 1.15;
        text-align: start;
      }
      button small {
        display: block;
        font-size: 0.85rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .next {
        border: 3px solid var(--ink);
        background: var(--lit);
      }
      .slack {
        display: grid;
        grid-template-columns: repeat(5, minmax(0, 1fr));
        gap: 0.4rem;
      }
      .slack button {
        padding: 0.3rem;
      }
      h3 {
        font-size: 0.95rem;
        font-weight: 400;
        color: var(--ink-2);
        margin: 0.8rem 0 0.3rem;
      }
      form {
        display: flex;
        gap: 0.5rem;
        margin-top: 0.5rem;
      }
      form label {
        flex: 1;
        min-width: 0;
      }
      input {
        width: 100%;
      }
      form button {
        align-self: end;
      }
      .caution {
        font-size: 0.9rem;
        color: var(--ink-2);
        margin-top: 0.5rem;
      }
    `,
  ];

  constructor() {
    super();
    /** The station; null for the whole chain. @type {import("../messages.js").Station | null} */
    this.station = null;
    /** The link that feeds it. @type {import("../messages.js").Link | null} */
    this.link = null;
    /** @type {import("../messages.js").RunInfo | null} */
    this.info = null;
    /** @type {import("../messages.js").Prompt | null} */
    this.prompt = null;
    this.now_s = 0;
  }

  /** @param {Observation} what */
  #tap(what) {
    this.dispatchEvent(new CustomEvent("tap", { detail: what }));
  }

  /** @override */
  render() {
    return html`
      ${this.station ? this.#station(this.station) : this.#chain()} ${this.#note()}
      <p class="caution">Film may start at any time: keep hands and clothing clear. The site's own rules come first.</p>
    `;
  }

  #chain() {
    return html`<div class="taps">${["chain_start", "chain_stop"].map((kind) => this.#button(kind, ""))}</div>`;
  }

  /** @param {import("../messages.js").Station} station */
  #station(station) {
    const { running, lamp, douser } = station;
    const so = { motor_start: running, motor_stop: !running, lamp_lit: lamp === "lit", lamp_out: lamp === "out" };
    const dousers = { douser_open: douser === "open", douser_shut: douser === "shut" };
    return html`
      <div class="taps">
        ${Object.entries({ ...so, ...dousers }).map(([kind, isSo]) => this.#button(kind, isSo ? "is so now" : ""))}
      </div>
      ${this.#marks(station)} ${this.#slack()}
      <h3>The projector's own detector</h3>
      <div class="taps">${this.#button("film_trip", "")}</div>
    `;
  }

  /** @param {string} kind @param {string} said */
  #button(kind, said) {
    const { prompt, now_s, station } = this;
    const next = prompt !== null && ANSWERS[prompt.kind] === kind && prompt.from_s <= now_s;
    const words = KIND_WORDS[kind] ?? kind;
    const tap = () => this.#tap(station ? { kind, station: station.id } : { kind });
    return html`<button type="button" class=${next ? "next" : ""} @click=${tap}>
      ${words.charAt(0).toUpperCase() + words.slice(1)} <small>${next ? `next: ${countdown(prompt.due_s - now_s)}` : said}</small>
    </button>`;
  }

  /** The next expected marks first; the rest within reach. @param {import("../messages.js").Station} station */
  #marks(station) {
    const marks = marksToCome(station, this.info?.marks ?? [], this.now_s);
    const [near, far] = [marks.slice(0, MARKS_AT_HAND), marks.slice(MARKS_AT_HAND)];
    if (near.length === 0) return nothing;
    return html`
      <h3>Goes through the gate now</h3>
      <div class="taps">${near.map((each) => this.#mark(station, each))}</div>
      ${
        far.length
          ? html`<details>
              <summary>Other marks</summary>
              <div class="taps">${far.map((each) => this.#mark(station, each))}</div>
            </details>`
          : nothing
      }
    `;
  }

  /** @param {import("../messages.js").Station} station @param {{mark: import("../messages.js").MarkInfo, at_s: number | null}} each */
  #mark(station, { mark, at_s }) {
    const left_s = at_s === null ? null : at_s - this.now_s;
    const said = left_s === null ? "" : left_s >= 0 ? `expected in ${countdown(left_s)}` : `was expected ${countdown(-left_s)} ago`;
    const tap = () => this.#tap({ kind: "mark_pass", station: station.id, mark: mark.id });
    return html`<button type="button" @click=${tap}>${mark.title} <small>${said}</small></button>`;
  }

  #slack() {
    const { link, station } = this;
    if (!link || !station) return nothing;
    const read = (/** @type {number} */ seconds) => () => this.#tap({ kind: "slack_read", station: station.id, seconds });
    return html`
      <h3>Read on the loop before this house</h3>
      <div class="slack">
        ${[-1, -0.5, 0, 0.5, 1].map((share) => {
          const seconds = share * link.reserve_s;
          const end = share === -1 ? "taut" : share === 1 ? "on the floor" : "";
          return html`<button type="button" @click=${read(seconds)}>${slackInWords(seconds)} <small>${end}</small></button>`;
        })}
      </div>
      <form @submit=${this.#readSlack}>
        <label>Seconds, loose is +, tight is − <input name="seconds" type="number" step="0.1" required /></label>
        <button>Send reading</button>
      </form>
    `;
  }

  /** @param {SubmitEvent} event */
  #readSlack(event) {
    const field = fieldOf(event, "seconds");
    if (this.station && field) this.#tap({ kind: "slack_read", station: this.station.id, seconds: field.valueAsNumber });
    if (field) field.value = "";
  }

  #note() {
    return html`<form @submit=${this.#writeNote}>
      <label>Note for the debrief <input name="text" required maxlength="500" autocomplete="off" /></label>
      <button>Write note</button>
    </form>`;
  }

  /** @param {SubmitEvent} event */
  #writeNote(event) {
    const field = fieldOf(event, "text");
    if (field) this.#tap({ kind: "note", text: field.value });
    if (field) field.value = "";
  }
}

/** The field of a form that was sent; the page stays. @param {SubmitEvent} event @param {string} name @returns {HTMLInputElement | null} */
function fieldOf(event, name) {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.currentTarget);
  const field = form.elements.namedItem(name);
  return field instanceof HTMLInputElement ? field : null;
}

customElements.define("tap-buttons", TapButtons);
