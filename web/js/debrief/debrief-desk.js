// @ts-check
// The debrief: what happened, when, and what do we change?

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { clockText, countInWords, houseClock, plural } from "../words/format.js";
import { dayText, liveInWords } from "./library.js";
import { heldSchedule } from "../live/hold.js";
import { quietText } from "../live/quiet.js";
import { partTabs } from "../elements/part-tabs.js";
import { shared } from "../elements/shared.js";
import "../elements/chain-picture.js";
import "../elements/chain-table.js";
import { clockInWords } from "./clock-switch.js";
import "./debrief-comparison.js";
import "./debrief-corrections.js";
import "./debrief-files.js";
import "./debrief-lessons.js";
import "./debrief-reading.js";
import "./debrief-story.js";
import "./keys-help.js";
import "./moment-bar.js";
import "./moment-list.js";
import "./run-chart.js";
import "./told-alarms.js";

/** @type {[string, string][]} */
const PARTS = [
  ["watch", "Watch it again"],
  ["read", "Read it"],
  ["correct", "Put it right"],
  ["learn", "Change the plan"],
  ["compare", "Compare"],
  ["files", "Hand it on"],
];

export class DebriefDesk extends LitElement {
  /** @override */
  static properties = {
    runs: { attribute: false },
    debrief: { attribute: false },
    story: { attribute: false },
    reading: { attribute: false },
    series: { attribute: false },
    events: { attribute: false },
    tables: { attribute: false },
    moments: { attribute: false },
    state: { attribute: false },
    at_s: { attribute: false },
    now_s: { attribute: false },
    timeAt: { attribute: false },
    playing: { attribute: false },
    speed: { attribute: false },
    clock: { attribute: false },
    trouble: { attribute: false },
    grown: { attribute: false },
    lessons: { attribute: false },
    comparison: { attribute: false },
    others: { attribute: false },
    told: { attribute: false },
    by: { attribute: false },
    place: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    partTabs,
    css`
      :host {
        min-height: 100vh;
        display: flex;
        flex-direction: column;
        padding: 0.4rem 1.2rem 0;
      }
      main {
        flex: 1 1 auto;
        display: flex;
        flex-direction: column;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        align-items: baseline;
        gap: 0 1rem;
      }
      h1 {
        font-size: 1.3rem;
        line-height: 1.15;
        letter-spacing: -0.01em;
      }
      .site,
      .day {
        color: var(--ink-2);
      }
      .moment {
        margin-left: auto;
        font-size: 2rem;
        line-height: 1;
        font-weight: 600;
        letter-spacing: -0.02em;
      }
      .library {
        margin-left: auto;
      }
      .parts .library {
        text-decoration: underline;
      }
      .trouble,
      .grown,
      .said {
        margin-top: 0.5rem;
        padding: 0.6rem 1rem;
        border-radius: 0.4rem;
        border: 2px solid var(--watch);
      }
      .said {
        border: 0;
        padding: 0.2rem 0;
        color: var(--ink-2);
        font-size: 0.9rem;
      }
      .then {
        font-weight: 700;
        padding: 0.2rem 0;
      }
      clock-switch {
        margin-left: auto;
      }
      .watch {
        flex: 1 1 auto;
        display: flex;
        flex-direction: column;
      }
      .look {
        flex: 1 1 auto;
        display: grid;
        grid-template-columns: minmax(0, 1fr);
        gap: 0.6rem 1.4rem;
        padding: 0.6rem 0;
        align-content: start;
      }
      .through {
        contain: content;
        display: grid;
        grid-template-columns: minmax(0, 1fr);
        gap: 0 1.4rem;
        position: sticky;
        bottom: 0;
        z-index: 1;
        background: var(--ground);
        border-top: 1px solid var(--rule);
        padding: 0.4rem 0 0.3rem;
      }
      /* What is not of the moment that is chosen is shown as that, once it is seen to take its time. */
      [aria-busy="true"] {
        opacity: 0.4;
        transition: opacity 0.1s 0.3s;
      }
      run-chart {
        min-height: clamp(13rem, 25vh, 26rem);
        margin-top: 0.3rem;
      }
      moment-list {
        height: 24rem;
      }
      @media (min-width: 1400px) {
        .through {
          grid-template-columns: minmax(0, 1fr) 22rem;
        }
        .find {
          position: relative;
        }
        moment-list {
          position: absolute;
          inset: 0;
          height: auto;
        }
      }
      @media (max-width: 899px) {
        :host {
          padding: 0.4rem 0.6rem 0;
        }
        /* One line on a phone: the story stays in sight over it. */
        moment-bar {
          flex-wrap: nowrap;
          overflow-x: auto;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {string[]} */
    this.runs = [];
    /** @type {import("../wire.js").DebriefInfo | null} */
    this.debrief = null;
    /** @type {import("../wire.js").Story | null} */
    this.story = null;
    /** Not all of the run is here yet. */
    this.reading = false;
    /** @type {import("../wire.js").Series | null} */
    this.series = null;
    /** @type {import("../wire.js").ArrivedEvent[]} */
    this.events = [];
    /** @type {import("../wire.js").TableDocument[]} */
    this.tables = [];
    /** @type {import("./moments.js").Moment[]} */
    this.moments = [];
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    this.at_s = 0;
    this.now_s = 0;
    this.timeAt = () => this.now_s;
    this.playing = false;
    this.speed = 1;
    /** @type {import("../wire.js").Story["clock"]} */
    this.clock = "now";
    this.trouble = "";
    this.grown = false;
    /** @type {import("../wire.js").LessonList | null} */
    this.lessons = null;
    /** @type {import("../wire.js").Comparison | null} */
    this.comparison = null;
    /** @type {import("../wire.js").LibraryRun[] | null} null until they are known */
    this.others = null;
    this.told = "";
    this.by = "";
    this.place = "watch";
    this.wide = window.matchMedia("(min-width: 1400px)");
    this.onWide = () => this.requestUpdate();
    this.onKey = (/** @type {KeyboardEvent} */ event) => this.#key(event);
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    window.addEventListener("keydown", this.onKey);
    this.wide.addEventListener("change", this.onWide);
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener("keydown", this.onKey);
    this.wide.removeEventListener("change", this.onWide);
  }

  /** Space plays and pauses, arrows step; not where a key has a meaning of its own. @param {KeyboardEvent} event */
  #key(event) {
    if (this.place !== "watch" || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const [on] = event.composedPath();
    const own = on instanceof Element && on.closest("input, select, textarea, summary, a, .sheet");
    if (own || (event.key === " " && on instanceof Element && on.closest("button"))) return;
    const kind = event.shiftKey ? "alarm" : "event";
    if (event.key === " ") this.#say("play", !this.playing);
    else if (event.key === "ArrowRight") this.#say("step", { kind, way: 1 });
    else if (event.key === "ArrowLeft") this.#say("step", { kind, way: -1 });
    else return;
    event.preventDefault();
  }

  /** @override */
  render() {
    const { debrief } = this;
    return html`
      <header>${debrief ? this.#header(debrief) : html`<h1>Debrief</h1>`}</header>
      ${this.#parts()}
      <main>
      ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : nothing}
      ${debrief ? this.#asides(debrief) : nothing}
      ${debrief ? this.#part(debrief) : this.trouble ? nothing : html`<p class="said" role="status">${this.runs.length ? "Waiting for the server" : "Choose a run in the library."}</p>`}
      </main>
    `;
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #header({ info, source }) {
    return html`<h1>${info.title}</h1>
      ${info.site ? html`<span class="site">${info.site}</span>` : nothing}
      <span class="day">${dayText(dayOf(info))}${source === "recording" ? ", from a recording" : ""}</span>
      ${this.place === "watch" ? html`<time class="moment">${clockText(houseClock(info), this.at_s, true, true)}</time>` : nothing}`;
  }

  #parts() {
    return html`<nav class="parts" aria-label="Parts of the debrief">
      ${PARTS.map(([part, name]) => html`<a href="#${part}" aria-current=${part === this.place ? "page" : nothing}>${name}</a>`)}
      <a class="library" href="/library">Library</a>
    </nav>`;
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #asides({ live, heard, archived, rejected, lacking }) {
    return html`
      ${lacking.map((text) => html`<p class="grown" role="alert">${text}</p>`)}
      ${live ? this.#live(heard) : nothing}
      ${archived ? html`<p class="said">Put away${archived.by ? ` by ${archived.by}` : ""}.</p>` : nothing}
      ${
        this.grown
          ? html`<p class="grown" role="status">More was observed since this was loaded. <button type="button" @click=${() => this.#say("reload")}>Load it again</button></p>`
          : nothing
      }
      ${
        rejected.length
          ? html`<details>
              <summary>${rejected.length} ${plural(rejected.length, "line")} of the recording ${rejected.length === 1 ? "was" : "were"} not taken</summary>
              <ul class="said">${rejected.map(({ line, text }) => html`<li>Line ${line}: ${text}</li>`)}</ul>
            </details>`
          : nothing
      }
    `;
  }

  /** @param {import("../wire.js").DebriefInfo["heard"]} heard */
  #live(heard) {
    const { text, look } = liveInWords(heard);
    return html`<p class=${look ? "grown" : "said"} role="status">${text}</p>`;
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #part(debrief) {
    const { info } = debrief;
    switch (this.place) {
      case "read":
        if (this.tables.length === 0) return html`<p class="said" role="status">${this.#readingText(debrief)}</p>`;
        return html`<debrief-reading .info=${info} .series=${this.series} .tables=${this.tables} .clock=${this.clock} .at_s=${this.at_s}></debrief-reading>`;
      case "correct":
        return html`<debrief-corrections
          .debrief=${debrief}
          .events=${this.events}
          .table=${this.tables.find(({ id }) => id === "corrections") ?? null}
          .at_s=${this.at_s}
          .by=${this.by}
          .told=${this.told}
        ></debrief-corrections>`;
      case "learn":
        return html`<debrief-lessons .info=${info} .runs=${this.runs} .lessons=${this.lessons} .others=${this.others}></debrief-lessons>`;
      case "compare":
        return html`<debrief-comparison .info=${info} .runs=${this.runs} .comparison=${this.comparison} .others=${this.others}></debrief-comparison>`;
      case "files":
        return html`<debrief-files .run=${debrief.id} .clock=${this.clock} .tables=${this.tables} .told=${this.told}></debrief-files>`;
      default:
        return this.#watch(debrief);
    }
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #readingText({ info, events }) {
    if (!this.reading) return "";
    const houses = info.stations.length;
    return `Reading the run: ${events} ${plural(events, "event")} of ${countInWords(houses)} ${plural(houses, "house")}`;
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #watch(debrief) {
    const { info, schedule, keeps_arrivals } = debrief;
    const { state, now_s } = this;
    const behind = state === null || (!this.playing && now_s !== this.at_s);
    return html`<div class="watch">
      <div class="look">
        <section aria-label="The story">
          <h2 class="unseen">What happened</h2>
          <debrief-story .story=${this.story} .clock=${houseClock(info)} .at_s=${this.at_s} .reading=${this.#readingText(debrief)}></debrief-story>
        </section>
        <section aria-label="The run at this moment" aria-busy=${behind ? "true" : "false"}>
          <h2 class="unseen">The run at this moment</h2>
          ${this.clock === "then" ? html`<p class="then">${clockInWords("then", keeps_arrivals)}</p>` : nothing}
          ${state ? html`<told-alarms .alarms=${state.alarms} .clock=${houseClock(info)} .quiet=${quietText(state)}></told-alarms>` : nothing}
          <chain-picture .state=${state} .schedule=${heldSchedule(schedule, state)} .now_s=${now_s} .timeAt=${this.timeAt}></chain-picture>
          <chain-table .state=${state} .now_s=${now_s}></chain-table>
          <keys-help .keepsArrivals=${keeps_arrivals}></keys-help>
        </section>
        ${this.wide.matches ? nothing : this.#find(info)}
      </div>
      <section class="through" aria-label="Go through the run">
        <div>
          <moment-bar .playing=${this.playing} .speed=${this.speed} .canStep=${!this.#isMissing()}></moment-bar>
          <run-chart .series=${this.series} .info=${info} .at_s=${this.at_s}>
            <clock-switch .clock=${this.clock} .keepsArrivals=${keeps_arrivals}></clock-switch>
          </run-chart>
        </div>
        ${this.wide.matches ? this.#find(info) : nothing}
      </section>
    </div>`;
  }

  /** Whether the moments of the run are not here yet. */
  #isMissing() {
    return this.moments.length === 0 && this.reading;
  }

  /** @param {import("../wire.js").RunInfo} info */
  #find(info) {
    if (this.#isMissing()) return nothing;
    return html`<section class="find" aria-label="Find the moment">
      <moment-list .moments=${this.moments} .clock=${houseClock(info)} .at_s=${this.at_s}></moment-list>
    </section>`;
  }

  /** @param {string} name @param {unknown} [detail] */
  #say(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

/** The day of the run by the house's calendar. @param {import("../wire.js").RunInfo} info */
function dayOf({ zero, timezone }) {
  const part = new Intl.DateTimeFormat("en-CA", { year: "numeric", month: "2-digit", day: "2-digit", timeZone: timezone }).formatToParts(Date.parse(zero));
  const named = (/** @type {string} */ name) => part.find(({ type }) => type === name)?.value ?? "";
  return `${named("year")}-${named("month")}-${named("day")}`;
}

customElements.define("debrief-desk", DebriefDesk);
