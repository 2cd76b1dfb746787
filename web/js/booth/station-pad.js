// @ts-check
// The pad of one station, or of the whole chain. Each touch leaves as a `tap` event with what was seen.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { fieldOf } from "../pages/fields.js";
import { capital, countdown } from "../words/format.js";
import { marksToCome } from "../live/next.js";
import { SEEN_FROM_THE_BOOTH } from "../lobby/troubles.js";
import { EVENT_KINDS } from "../words/kinds.js";
import { fieldForm, shared } from "../elements/shared.js";
import "../elements/slack-reading.js";

/** @typedef {import("./taps.js").Observation} Observation */
/** @typedef {Observation["kind"]} Kind */

/** What is tapped of all motors together. @type {Kind[]} */
const CHAIN = ["chain_start", "chain_stop"];

const MARKS_AT_HAND = 2; // the other marks are one touch further: chosen

export class StationPad extends LitElement {
  /** @override */
  static properties = {
    station: { attribute: false },
    house: { attribute: false },
    link: { attribute: false },
    info: { attribute: false },
    now_s: { attribute: false },
    lost: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    fieldForm,
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
        font-size: 1.2rem;
        font-weight: 600;
        line-height: 1.15;
        text-align: start;
      }
      .states {
        grid-template-columns: repeat(3, minmax(0, 1fr));
      }
      .states .head {
        grid-column: 1 / -1;
      }
      button small {
        display: block;
        font-size: 0.85rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .few {
        display: grid;
        grid-template-columns: repeat(auto-fill, minmax(9rem, 1fr));
        gap: 0.4rem;
      }
      .few .trip {
        border-width: 3px;
        font-weight: 700;
      }
      @media (max-width: 449px) {
        .states {
          grid-template-columns: repeat(2, minmax(0, 1fr));
        }
      }
      @media (max-width: 299px) {
        .taps {
          grid-template-columns: minmax(0, 1fr);
        }
        .taps button {
          min-height: 3.2rem;
        }
      }
      h3 {
        font-size: 0.95rem;
        font-weight: 400;
        color: var(--ink-2);
        margin: 0.8rem 0 0.3rem;
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
    /** The station; null for the whole chain. @type {import("../wire.js").Station | null} */
    this.station = null;
    this.house = "";
    /** The link that feeds it. @type {import("../wire.js").Link | null} */
    this.link = null;
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    this.now_s = 0;
    /** Whether the server is away: then nothing is counted down. */
    this.lost = false;
  }

  /** @param {Observation} what */
  #tap(what) {
    this.dispatchEvent(new CustomEvent("tap", { detail: what }));
  }

  /** @override */
  render() {
    return html`
      ${this.station ? this.#station(this.station) : this.#chain()} ${this.#trouble()}
      <p class="caution">Film may move at any time: keep hands and clothing clear. The site's own rules come first.</p>
    `;
  }

  #chain() {
    return html`<div class="taps">${CHAIN.map((kind) => this.#button(kind, false))}</div>`;
  }

  /** @param {import("../wire.js").Station} station */
  #station(station) {
    const { running, lamp, douser } = station;
    /** @type {[Kind, boolean][]} */
    const states = [
      ["motor_start", running],
      ["lamp_lit", lamp === "lit"],
      ["douser_open", douser === "open"],
      ["motor_stop", !running],
      ["lamp_out", lamp === "out"],
      ["douser_shut", douser === "shut"],
    ];
    return html`
      <div class="taps states">
        ${states.map(([kind, isSo]) => this.#button(kind, isSo))} ${this.#head(station)}
      </div>
      ${this.#marks(station)} ${this.#slack()}
    `;
  }

  /** @param {Kind} kind @param {boolean} isSo */
  #button(kind, isSo) {
    const { station } = this;
    const tap = () => this.#tap(station ? { kind, station: station.id } : { kind });
    const said = isSo ? (this.lost ? "was so" : "is so now") : "";
    return html`<button type="button" class=${kind.replace("_", "-")} @click=${tap}>${capital(EVENT_KINDS[kind].words)} <small>${said}</small></button>`;
  }

  /** @param {import("../wire.js").Station} station */
  #head(station) {
    if (station.passes["head"] !== undefined) return nothing;
    const tap = () => this.#tap({ kind: "mark_pass", station: station.id, mark: "head" });
    const due_s = station.head_s;
    return html`<button type="button" class="head" @click=${tap}>Head on screen <small>${due_s === null ? "" : this.#expected(due_s)}</small></button>`;
  }

  /** The next expected marks first; the rest within reach. @param {import("../wire.js").Station} station */
  #marks(station) {
    const marks = marksToCome(station, this.info?.marks ?? [], this.now_s).filter(({ mark }) => mark.id !== "head");
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

  /** @param {import("../wire.js").Station} station @param {{mark: import("../wire.js").MarkInfo, at_s: number | null}} each */
  #mark(station, { mark, at_s }) {
    const tap = () => this.#tap({ kind: "mark_pass", station: station.id, mark: mark.id });
    return html`<button type="button" @click=${tap}>${mark.title} <small>${at_s === null ? "" : this.#expected(at_s)}</small></button>`;
  }

  /** @param {number} at_s */
  #expected(at_s) {
    if (this.lost) return "";
    const left_s = at_s - this.now_s;
    return left_s >= 0 ? `expected in ${countdown(left_s)}` : `was expected ${countdown(-left_s)} ago`;
  }

  /** A link whose film has a free end holds nothing that could be read. */
  #slack() {
    const { link, station } = this;
    if (!link || !station || link.slack_s === null) return nothing;
    return html`
      <h3>Slack, read on the loop before this house</h3>
      <slack-reading .station=${station.id} .reserve_s=${link.reserve_s} @tap=${this.#pass}></slack-reading>
    `;
  }

  /** @param {CustomEvent<Observation>} event */
  #pass({ detail }) {
    this.#tap(detail);
  }

  #trouble() {
    const { station } = this;
    const trip = () => station && this.#tap({ kind: "film_trip", station: station.id });
    return html`
      <h3>${station ? "Trouble" : "Trouble in a house: choose the house above"}</h3>
      <div class="few">
        ${station ? html`<button type="button" class="trip" @click=${trip}>${capital(EVENT_KINDS.film_trip.words)}</button>` : nothing}
        ${station ? SEEN_FROM_THE_BOOTH.map((seen) => this.#report(station, seen)) : nothing}
      </div>
      <form @submit=${this.#writeNote}>
        <label>Note for the debrief <input name="text" required maxlength="400" autocomplete="off" /></label>
        <button>Write note</button>
      </form>
    `;
  }

  /** What is seen or heard from the booth calls like what a house reports. @param {import("../wire.js").Station} station @param {(typeof SEEN_FROM_THE_BOOTH)[number]} seen */
  #report({ id }, { label, what, text }) {
    const tap = () => this.#tap({ kind: "report", station: id, what, ...(text ? { text } : {}) });
    return html`<button type="button" @click=${tap}>${label}</button>`;
  }

  /** A note belongs to no station in the log: it names the house itself. @param {string} words */
  #note(words) {
    this.#tap({ kind: "note", text: this.station ? `House ${this.house}: ${words}` : words });
  }

  /** @param {SubmitEvent} event */
  #writeNote(event) {
    const field = fieldOf(event, "text");
    if (field) this.#note(field.value);
    if (field) field.value = "";
  }
}

customElements.define("station-pad", StationPad);
