// @ts-check
// The tap pad: what was seen goes in here with one touch, and is answered at once.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, houseClock } from "../format.js";
import { promptsToShow } from "../prompts.js";
import { quietText, restText } from "../quiet.js";
import { tapLines } from "../taps.js";
import { shared } from "./shared.js";
import "./alarm-board.js";
import "./desk-links.js";
import "./lost-screen.js";
import "./prompt-list.js";
import "./run-header.js";
import "./station-picker.js";
import "./tap-buttons.js";
import "./tap-log.js";

const LINES = 12; // taps that can be seen and taken back here: chosen

export class PadDesk extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    schedule: { attribute: false },
    now_s: { attribute: false },
    lost: { type: Boolean, reflect: true },
    age_s: { attribute: false },
    trouble: { attribute: false },
    taps: { attribute: false },
    by: { attribute: false },
    chosen: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        display: grid;
        gap: 0.7rem;
        padding: 0.6rem 0.9rem 6rem;
        grid-template-columns: 9.5rem minmax(0, 1fr) minmax(15rem, 20rem);
        align-items: start;
      }
      run-header,
      .empty,
      .fault {
        grid-column: 1 / -1;
      }
      .top {
        grid-column: 1 / -1;
        display: grid;
        grid-template-columns: minmax(0, 1fr) minmax(0, 1fr);
        gap: 0.9rem;
        align-items: start;
      }
      h2 {
        font-size: 1.4rem;
        line-height: 1.1;
        margin-bottom: 0.5rem;
      }
      .empty {
        font-size: 1.4rem;
        color: var(--ink-2);
      }
      .fault {
        background: var(--act);
        color: var(--act-ink);
        font-weight: 700;
        padding: 0.6rem 0.9rem;
        border-radius: 0.4rem;
      }
      .latest {
        position: fixed;
        inset: auto 0 0;
        padding: 0.5rem 0.9rem;
        background: var(--surface);
        border-top: 3px solid var(--ink-3);
      }
      input {
        width: 100%;
      }
      @media (max-width: 899px) {
        main {
          grid-template-columns: minmax(0, 1fr);
        }
        .top {
          grid-template-columns: minmax(0, 1fr);
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../store.js").RunState | null} */
    this.state = null;
    /** @type {import("../messages.js").Schedule | null} */
    this.schedule = null;
    this.now_s = 0;
    this.timeAt = () => this.now_s;
    this.lost = false;
    this.age_s = 0;
    this.trouble = "";
    /** Taps of this desk. @type {import("../taps.js").Tap[]} */
    this.taps = [];
    /** Who taps, or empty. */
    this.by = "";
    /** @type {string | null} */
    this.chosen = null;
  }

  /** @override */
  render() {
    const { state } = this;
    return html`
      ${this.lost ? this.#lost() : nothing}
      <main>${state ? this.#desk(state) : html`<h1 class="unseen">Pad</h1>
              <p class="empty" role="status">${this.trouble || "Waiting for the server"}</p>`}</main>
    `;
  }

  #lost() {
    const asOf = this.state ? clockText(houseClock(this.state.info), this.now_s, true) : "";
    return html`<lost-screen strip .age_s=${this.age_s} .asOf=${asOf} .todo=${"Taps keep their time and are sent when it is back."}></lost-screen>`;
  }

  /** @param {import("../store.js").RunState} state */
  #desk(state) {
    const { now_s } = this;
    const place = state.stations.findIndex(({ id }) => id === this.chosen);
    const house = state.info.stations[place]?.house;
    const { latest, others } = this.#lines(state);
    const prompt = promptsToShow(state.prompts, now_s).find(({ station }) => station === this.chosen);
    return html`
      <run-header .info=${state.info} .now_s=${now_s}></run-header>
      ${state.fault ? html`<p class="fault" role="alert">This run no longer follows its events: ${state.fault}</p>` : nothing}
      <div class="top">
        <section aria-label="Alarms">
          <alarm-board
            compact
            can-acknowledge
            .alarms=${state.alarms}
            .clock=${houseClock(state.info)}
            .quiet=${quietText(state)}
            @acknowledge=${this.#acknowledge}
          ></alarm-board>
        </section>
        <section aria-label="Next">
          <prompt-list .prompts=${promptsToShow(state.prompts, now_s)} .empty=${restText(state, now_s)} .now_s=${now_s}></prompt-list>
        </section>
      </div>
      <station-picker .state=${state} .chosen=${this.chosen} @choose=${this.#choose}></station-picker>
      <section aria-label="Taps">
        <h2>${house === undefined ? "The whole chain" : `House ${house}`}</h2>
        <tap-buttons
          .station=${state.stations[place] ?? null}
          .link=${state.links[place - 1] ?? null}
          .info=${state.info}
          .prompt=${prompt ?? null}
          .now_s=${now_s}
          @tap=${this.#tapped}
        ></tap-buttons>
      </section>
      <section aria-label="Who and what">
        <label>Your name, if you like <input .value=${this.by} maxlength="40" autocomplete="off" @change=${this.#named} /></label>
        <tap-log .lines=${others} .info=${state.info} @takeback=${this.#takeBack}></tap-log>
        <desk-links .run=${state.info.run} here="pad"></desk-links>
      </section>
      <section class="latest" aria-label="Answer">
        <tap-log latest .lines=${latest ? [latest] : []} .info=${state.info} @takeback=${this.#takeBack}></tap-log>
      </section>
    `;
  }

  /** The latest tap of this desk, which is answered large, and all others. @param {import("../store.js").RunState} state */
  #lines({ events }) {
    const own = new Set(this.taps.map(({ event }) => event.id));
    const lines = tapLines(this.taps, events);
    const latest = lines.find(({ event }) => own.has(event.id));
    return { latest, others: lines.filter((line) => line !== latest).slice(0, LINES) };
  }

  /** @param {CustomEvent<string | null>} event */
  #choose({ detail }) {
    this.chosen = detail;
  }

  /** @param {CustomEvent<import("../outbox.js").Observation>} event */
  #tapped({ detail }) {
    this.#observe(detail);
  }

  /** @param {CustomEvent<string>} event */
  #takeBack({ detail }) {
    this.#observe({ kind: "retract", retracts: detail });
  }

  /** @param {CustomEvent<string>} event */
  #acknowledge({ detail }) {
    this.#observe({ kind: "ack", alarm: detail });
  }

  /** @param {import("../outbox.js").Observation} what */
  #observe(what) {
    const detail = this.by ? { ...what, by: this.by } : what;
    this.dispatchEvent(new CustomEvent("observe", { detail }));
  }

  /** @param {Event} event */
  #named({ target }) {
    this.by = /** @type {HTMLInputElement} */ (target).value.trim();
    this.dispatchEvent(new CustomEvent("named", { detail: this.by }));
  }
}

customElements.define("pad-desk", PadDesk);
