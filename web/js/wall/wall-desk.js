// @ts-check
// The wall: where is the film, and is any link going wrong?

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { levelBySubject } from "../live/alarms.js";
import { alertsOf, brokenInWords, statusOf } from "../live/aloud.js";
import { capital, clockText, houseClock } from "../words/format.js";
import { headlineOf, recovering } from "../live/headline.js";
import { heldSchedule } from "../live/hold.js";
import { nearPrompts, promptsBesideHeat, promptsToShow } from "../live/prompts.js";
import { housesText, restText } from "../live/quiet.js";
import { RunDesk } from "../elements/run-desk.js";
import { shared } from "../elements/shared.js";
import "../elements/alarm-board.js";
import "../elements/chain-picture.js";
import "../elements/chain-table.js";
import "../elements/desk-links.js";
import "../elements/heat-block.js";
import { lostInWords } from "../elements/lost-screen.js";
import "./prompt-list.js";
import "../elements/restart-card.js";
import "../elements/run-header.js";
import "../elements/said-aloud.js";
import "./string-chart.js";
import "./string-table.js";

/** A caution where it is true. @param {import("../live/store.js").RunState} state */
function moving({ stations }) {
  return stations.some(({ running, phase }) => running && phase !== "clear") ? "Film is moving: keep hands and clothing clear" : "";
}

const MOST = 2; // alarms told on a wall: the rest are counted
const TIGHTEST = 3; // steps by which less is told where there is no room: chosen
const TIGHT_FOR_CHAIN = 2; // and where the chain has none: the cautions stay
const BAND_PX = 900; // as its style has it

export class WallDesk extends RunDesk {
  /** @override */
  static properties = {
    schedule: { attribute: false },
    tight: { type: Number, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        min-height: 100vh;
        --far: 1.6rem; /* 32 pixels at 1080 lines */
        --far-headline: 2.1rem;
        --far-clock: 2.6rem;
        --far-todo: 1.6rem;
        --far-heat: 2rem;
        --far-first: 1.7rem;
        --far-left: 2.4rem;
        /* A wall cuts nothing without a sign: what is longer ends in dots. */
        --lines-headline: 2;
        --lines-todo: 4;
        --lines-text: 1;
        --lines-next: 2;
        --lines-later: 1;
        --lines-caution: 2;
        --sheet: absolute;
      }
      /* Where there is no room for all, what is to be done goes before why. */
      :host(:not([tight="0"])) {
        --spare: none;
      }
      :host([tight="3"]) {
        --spare-caution: none;
      }
      main {
        min-height: 100vh;
        display: grid;
        grid-template-rows: auto auto auto 1fr;
        grid-template-columns: minmax(0, 1fr); /* what was drawn for a wider screen does not keep it wide */
        gap: 0.55rem;
        padding: 0.5rem 1.2rem 0;
      }
      .top {
        display: grid;
        grid-template-columns: minmax(0, 13fr) minmax(0, 10fr);
        gap: 1.2rem;
        align-items: start;
      }
      .top.stands {
        grid-template-columns: repeat(2, minmax(0, 1fr));
      }
      .stands > div > * + * {
        margin-top: 0.4rem;
      }
      :host([lost]) main {
        filter: grayscale(1);
      }
      .fault,
      .empty {
        font-size: 1.6rem;
        font-weight: 700;
        line-height: 1.2;
        padding: 0.7rem 1rem;
        border-radius: 0.4rem;
      }
      .fault {
        background: var(--act);
        color: var(--act-ink);
      }
      .empty {
        font-weight: 500;
        color: var(--ink-2);
      }
      .apart {
        margin-left: auto;
      }
      /* Bands that never scroll: the chain is whole, the chart has the rest, and never less than a fifth. */
      @media (min-width: 900px) {
        main {
          height: 100vh;
          grid-template-rows: auto auto minmax(0, 42vh) minmax(21vh, 1fr);
        }
        .top {
          max-height: 17.8rem;
          overflow: hidden;
        }
        .top > div {
          min-height: 0;
        }
        section {
          min-height: 0;
        }
      }
      /* A screen of 4 to 3 is high: what stands under the chart takes two lines there. */
      @media (min-width: 900px) and (max-aspect-ratio: 3/2) {
        main {
          grid-template-rows: auto auto minmax(0, 42vh) minmax(26vh, 1fr);
        }
      }
      @media (max-width: 899px) {
        :host {
          --lines-headline: none;
          --lines-todo: none;
          --lines-text: none;
          --lines-next: none;
          --lines-later: none;
          --lines-caution: none;
          --sheet: static;
        }
        .top {
          grid-template-columns: minmax(0, 1fr);
        }
        .top.stands {
          grid-template-columns: minmax(0, 1fr);
        }
        main {
          padding: 0.6rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} */
    this.schedule = null;
    /** How much less is told than there is, from 0, and for what that was found. */
    this.tight = 0;
    this.told = "";
    this.refit = () => this.requestUpdate();
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    addEventListener("resize", this.refit);
  }

  /** @override */
  disconnectedCallback() {
    removeEventListener("resize", this.refit);
    super.disconnectedCallback();
  }

  /** @override */
  willUpdate() {
    const { state, now_s } = this;
    if (!state) return;
    const asked = nearPrompts(state.prompts, now_s).map(({ key }) => key);
    const told = [innerWidth, innerHeight, ...asked, ...state.alarms.map(({ key, level, state: is }) => `${key} ${level} ${is}`), state.restart?.before].join();
    if (told !== this.told) this.tight = 0;
    this.told = told;
  }

  /** @override */
  updated() {
    void this.#tighten();
  }

  /** Tells less, a step at a time, until it has room: once all parts are drawn, and before that is seen. */
  async #tighten() {
    const parts = [...this.renderRoot.querySelectorAll(".top > div *, .top > div")].flatMap((part) =>
      part instanceof LitElement ? [part.updateComplete] : [],
    );
    await Promise.all(parts);
    const top = this.renderRoot.querySelector(".top");
    const chain = /** @type {import("../elements/chain-picture.js").ChainPicture | null} */ (this.renderRoot.querySelector("chain-picture"));
    if (!top || innerWidth < BAND_PX) return;
    const isCut = top.scrollHeight > top.clientHeight + 2;
    if ((isCut && this.tight < TIGHTEST) || (chain?.isCramped && this.tight < TIGHT_FOR_CHAIN)) this.tight += 1;
  }

  /** @override */
  render() {
    const { state } = this;
    const waits = this.trouble || "Waiting for the server";
    return html`
      ${this.#aloud(waits)}
      <main>${
        state
          ? this.#desk(state)
          : html`<h1 class="unseen">Wall</h1>
              <p class="empty">${waits}</p>
              <a class="empty" href="/">All live runs</a>`
      }</main>
      ${this.lost ? this.#lost() : nothing}
    `;
  }

  /** @param {string} waits why there is nothing to show */
  #aloud(waits) {
    const { state, now_s, lost } = this;
    const alerts = [lost ? lostInWords(this.refusal) : "", ...(state ? alertsOf(state, now_s) : [])];
    return html`<said-aloud .alerts=${alerts} .statuses=${state ? statusOf(state, now_s, lost) : [waits]}></said-aloud>`;
  }

  #lost() {
    const asOf = this.state ? clockText(houseClock(this.state.info), this.now_s, true) : "";
    return html`<lost-screen told .age_s=${this.age_s} .refusal=${this.refusal} .asOf=${asOf} .todo=${"Watch the film itself."}></lost-screen>`;
  }

  /** @param {import("../live/store.js").RunState} state */
  #desk(state) {
    const { now_s } = this;
    const schedule = heldSchedule(this.schedule, state);
    const isCalm = levelBySubject(state.alarms).size === 0;
    const stands = state.restart?.before === "restart";
    return html`
      <div>
        <run-header .info=${state.info} .headline=${headlineOf(state, now_s)} .said=${[capital(housesText(state, now_s)), moving(state)].filter(Boolean).join(". ")} .now_s=${now_s}></run-header>
        ${state.fault ? html`<p class="fault">${brokenInWords(state.fault)}</p>` : nothing}
        ${state.warnings.map((text) => html`<p class="fault">${text}</p>`)}
      </div>
      <div class="top ${stands ? "stands" : ""}">
        <div>${this.#alarms(state)} ${!isCalm ? nothing : stands ? this.#next(state) : this.#card(state)}</div>
        <div>${isCalm && stands ? nothing : this.#next(state)} ${isCalm && !stands ? nothing : this.#card(state)}</div>
      </div>
      <section aria-label="The chain">
        <chain-picture
          banded
          .state=${state}
          .schedule=${schedule}
          .now_s=${now_s}
          .timeAt=${this.timeAt}
          .frozen=${this.lost}
          ?low=${!isCalm || stands}
        ></chain-picture>
      </section>
      <string-chart .state=${state} .schedule=${schedule} .now_s=${Math.floor(now_s)}>
        <string-table .state=${state} .schedule=${schedule} .now_s=${Math.floor(now_s)}></string-table>
        <chain-table .state=${state} .now_s=${now_s}></chain-table>
        <span class="apart">Festoon only watches: the hard-wired stop stays independent.</span>
        <desk-links .run=${state.info.run} here="wall"></desk-links>
      </string-chart>
    `;
  }

  /** @param {import("../live/store.js").RunState} state */
  #alarms(state) {
    return html`<section aria-label="Alarms">
      <heat-block .alarms=${state.alarms} .info=${state.info} .now_s=${this.now_s} .lost=${this.lost}></heat-block>
      <alarm-board .alarms=${state.alarms} .clock=${houseClock(state.info)} .now_s=${this.now_s} .recovering=${recovering(state, this.now_s)} .prompts=${state.prompts} .most=${this.tight > 1 ? 1 : MOST}></alarm-board>
    </section>`;
  }

  /** What comes next; of a chain that stands its card says the rest, and counts down to the start. @param {import("../live/store.js").RunState} state */
  #next(state) {
    const { now_s } = this;
    const stands = state.restart?.before === "restart";
    const asked = state.prompts.filter(({ kind }) => !stands || kind !== "start");
    const prompts = promptsToShow(promptsBesideHeat(asked, state.alarms), now_s, state.info.start);
    if (prompts.length === 0 && stands) return nothing;
    return html`<section aria-label="Next">
      <prompt-list .prompts=${this.tight > 1 ? prompts.slice(0, 1) : prompts} .empty=${restText(state, now_s)} .now_s=${now_s}></prompt-list>
    </section>`;
  }

  /** It stands where there is room: beside the alarms of a chain that stands, and before a start under them where there are none. @param {import("../live/store.js").RunState} state */
  #card(state) {
    return html`<restart-card .state=${state} .now_s=${this.now_s} .lost=${this.lost}></restart-card>`;
  }
}

customElements.define("wall-desk", WallDesk);
