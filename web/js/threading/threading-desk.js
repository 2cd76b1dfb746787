// @ts-check
// The threading list on a tablet: what is laced next, by whom, and is it done in time? Made for one hand, in the dark.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { SITE_RULES } from "../live/cautions.js";
import { capital, lengthInWords, plural } from "../words/format.js";
import { planAddress, threadingAddress } from "../plan/address.js";
import { momentText } from "../plan/times.js";
import { dayInWords } from "./keeping.js";
import { clockOf, peopleInWords, progressOf, secondsAt } from "./progress.js";
import { shared } from "../elements/shared.js";
import "../elements/sure-question.js";
import "../elements/tablet-notices.js";
import "./threading-checks.js";
import "./threading-pace.js";
import "./threading-steps.js";

/**
 * @typedef {import("./keeping.js").KeptList} KeptList
 * @typedef {{name: string, title: string, when: string}} PlanName
 */

const CREWS = [1, 2, 3, 4, 5, 6];
const CLOCK_OFF_MS = 60_000; // chosen: a clock that is less wrong misleads nobody

export class ThreadingDesk extends LitElement {
  /** @override */
  static properties = {
    name: { attribute: false },
    kept: { attribute: false },
    device_ms: { attribute: false },
    lost: { attribute: false },
    refused: { attribute: false },
    unpaired: { attribute: false },
    plans: { attribute: false },
    shell: { attribute: false },
    awake: { attribute: false },
    keeps: { attribute: false },
    dark: { attribute: false },
    question: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 84rem;
        margin: 0 auto;
        padding: 0 clamp(0.7rem, 2vw, 1.6rem) 3rem;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0 1rem;
      }
      header > div {
        flex: 1 1 15rem;
        padding: 0.4rem 0;
      }
      h1 {
        font-size: 1.4rem;
        line-height: 1.15;
        overflow-wrap: anywhere;
      }
      header p,
      .said {
        color: var(--ink-2);
      }
      nav {
        display: flex;
        flex-wrap: wrap;
      }
      nav a,
      .plans a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0 0.7rem;
      }
      .plans .said {
        display: block;
      }
      .plans a {
        font-size: 1.2rem;
        padding: 0 0.2rem;
        overflow-wrap: anywhere;
      }
      .lost {
        padding: 0.4rem 0.9rem;
        background: var(--ink);
        color: var(--ground);
        font-weight: 700;
      }
      threading-checks {
        scroll-margin-top: var(--above, 12rem);
      }
      .top {
        position: sticky;
        top: 0;
        z-index: 3;
        margin-bottom: 0.7rem;
      }
      .notice {
        border: 3px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.5rem 0.8rem;
        margin: 0.5rem 0;
      }
      .rule {
        border-left: 4px solid var(--watch);
        padding-left: 0.7rem;
        margin-bottom: 0.7rem;
      }
      h2 {
        font-size: 1.25rem;
        line-height: 1.2;
        margin-bottom: 0.5rem;
      }
      .body {
        display: grid;
        gap: 1.6rem;
        grid-template-columns: minmax(0, 1fr);
      }
      .side {
        display: grid;
        gap: 1.4rem;
        align-content: start;
        grid-template-columns: minmax(0, 1fr);
      }
      .cautions ul {
        list-style: disc;
        padding-left: 1.2rem;
        display: grid;
        gap: 0.3rem;
      }
      .tablet {
        margin-top: 1.6rem;
        padding-top: 0.8rem;
        border-top: 1px solid var(--rule);
        display: grid;
        gap: 0.7rem;
      }
      .choices {
        display: flex;
        flex-wrap: wrap;
        align-items: end;
        gap: 0.6rem 1rem;
      }
      label.people {
        display: grid;
        color: var(--ink-2);
        font-size: 0.95rem;
      }
      select {
        color: var(--ink);
        font-size: 1rem;
      }
      [aria-pressed="true"] {
        border-color: var(--ink);
        background: var(--lit);
        font-weight: 700;
      }
      button:disabled,
      select:disabled {
        color: var(--ink-3);
        border-color: var(--rule);
        cursor: default;
      }
      .empty {
        font-size: 1.3rem;
        padding: 1rem 0;
      }
      @media (min-width: 1000px) {
        .body {
          grid-template-columns: minmax(0, 1.35fr) minmax(0, 1fr);
        }
      }
    `,
  ];

  constructor() {
    super();
    /** Which plan is laced; empty where none is asked for. */
    this.name = "";
    /** @type {KeptList | null} */
    this.kept = null;
    /** This device's clock. */
    this.device_ms = Date.now();
    /** Whether the server is not heard. */
    this.lost = false;
    /** Why the server gives no list, in its words. */
    this.refused = "";
    this.unpaired = false;
    /** What can be laced, where no plan is asked for. @type {PlanName[] | null} */
    this.plans = null;
    /** @type {import("../pages/shell.js").ShellState} */
    this.shell = "fetching";
    this.awake = false;
    /** Whether this browser keeps ticks. */
    this.keeps = true;
    this.dark = true;
    /** @type {import("../elements/sure-question.js").Question | null} */
    this.question = null;
  }

  /** Goes to what is to be done now, once that is drawn. @param {"start" | "nearest"} where */
  async showNext(where) {
    await this.updateComplete;
    const steps = /** @type {import("./threading-steps.js").ThreadingSteps | null} */ (this.renderRoot.querySelector("threading-steps"));
    const top = this.renderRoot.querySelector(".top");
    if (!steps || !top) return;
    await steps.updateComplete;
    // What stays on top must not lie over what is gone to.
    this.style.setProperty("--above", `${top.getBoundingClientRect().height + 8}px`);
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const found = steps.nextRow ?? (where === "start" ? this.renderRoot.querySelector("threading-checks") : null);
    found?.scrollIntoView({ block: where, behavior: still ? "auto" : "smooth" });
  }

  /** @override */
  updated() {
    if (this.dark) document.documentElement.dataset["theme"] = "dark";
    else delete document.documentElement.dataset["theme"];
  }

  /** @override */
  render() {
    const { kept } = this;
    return html`
      <main>${kept ? this.#list(kept) : this.name ? this.#nothingYet() : this.#chooser()}</main>
      <sure-question .question=${this.question} @answer=${this.#answered}></sure-question>
    `;
  }

  #lost() {
    const { kept } = this;
    const age_s = kept ? (this.device_ms + kept.ahead_ms - kept.heard_ms) / 1000 : 0;
    const copy = kept ? ` This is the list of ${lengthInWords(age_s)} ago. Go on ticking: ticks stay on this device.` : "";
    return html`<p class="lost"><span role="alert">No word from the server.</span>${copy}</p>`;
  }

  #nothingYet() {
    return html`<h1 class="unseen">Threading</h1>
      ${this.lost ? this.#lost() : nothing}
      ${this.refused ? html`<p class="notice" role="alert">${this.refused}</p>` : html`<p class="empty" role="status">${this.lost ? "No list of this plan is on this device." : "Waiting for the server"}</p>`}
      ${this.#ways()}`;
  }

  #chooser() {
    const { plans } = this;
    return html`<header><div><h1>Threading lists</h1></div></header>
      ${this.lost ? this.#lost() : nothing}
      ${this.refused ? html`<p class="notice" role="alert">${this.refused}</p>` : nothing}
      ${
        plans === null
          ? html`<p class="empty" role="status">Waiting for the server</p>`
          : plans.length === 0
            ? html`<p class="empty" role="status">${this.lost ? "No list is on this device." : "No plan can be laced yet: make one at the plan desk."}</p>`
            : html`<p class="said">Which plan is laced?</p>
                <ul class="plans" aria-label="Plans">
                  ${plans.map(({ name, title, when }) => html`<li><a href=${threadingAddress(name)}>${title}</a> <span class="said">${when}</span></li>`)}
                </ul>`
      }
      ${this.#ways()}`;
  }

  #ways() {
    return html`<nav aria-label="Desks">
      ${this.unpaired ? html`<a href="/pair">Pair this device</a>` : nothing}
      ${this.name ? html`<a href="${planAddress(this.name)}#sheets">Plan and sheets</a>` : nothing}<a href="/plan">Plans</a><a href="/">Live runs</a>
    </nav>`;
  }

  /** @param {KeptList} kept */
  #list(kept) {
    const { list, ticks } = kept;
    const now_ms = this.device_ms + kept.ahead_ms;
    const progress = progressOf(list, ticks, now_ms);
    return html`
      <header>
        <div>
          <h1>Threading: ${list.title}</h1>
          <p>${[list.site, dayInWords(list)].filter((part) => part).join(", ")}. Motors at ${momentText(clockOf(list), 0)}. ${capital(peopleInWords(list.crew))} ${plural(list.crew, "laces", "lace")} ${list.leader_ft.toLocaleString("en-US")} ft of leader.</p>
        </div>
        ${this.#ways()}
      </header>
      <div class="top">
        ${this.lost ? this.#lost() : nothing}
        <threading-pace .kept=${kept} .progress=${progress} .now_ms=${now_ms} @show=${() => void this.showNext("start")}></threading-pace>
      </div>
      ${this.refused ? html`<p class="notice" role="alert">${this.refused} This is the list as it was at ${momentText(clockOf(list), secondsAt(list, kept.heard_ms))}.</p>` : nothing}
      ${kept.notice ? this.#notice(kept.notice) : nothing}
      ${list.against ? html`<p class="notice">This plan has what cannot work: mend it at the <a href=${planAddress(list.name)}>plan desk</a> before film is laced.</p>` : nothing}
      <p class="rule">${list.rule} ${SITE_RULES}</p>
      <div class="body">
        <section aria-labelledby="order">
          <h2 id="order">In this order</h2>
          <threading-steps .kept=${kept} .next=${progress.next} @tick=${this.#ticked}></threading-steps>
        </section>
        <div class="side">
          <threading-checks .kept=${kept} @tick=${this.#ticked}></threading-checks>
          <section class="cautions" aria-labelledby="film">
            <h2 id="film">Where film moves</h2>
            <ul>
              ${list.cautions.map((caution) => html`<li>${caution}</li>`)}
            </ul>
          </section>
        </div>
      </div>
      ${this.#tablet(kept)}
    `;
  }

  /** @param {string} notice */
  #notice(notice) {
    return html`<div class="notice">
      <p role="alert">${notice}</p>
      <button type="button" @click=${() => this.#tell("seen")}>Seen</button>
    </div>`;
  }

  /** @param {KeptList} kept */
  #tablet({ list, ticks, ahead_ms }) {
    const off =
      Math.abs(ahead_ms) > CLOCK_OFF_MS
        ? `This tablet's clock is ${lengthInWords(Math.abs(ahead_ms) / 1000)} ${ahead_ms > 0 ? "slow" : "fast"}: times here go by the server's.`
        : "";
    return html`<section class="tablet" aria-label="This tablet">
      <p>Ticks stay on this device: another tablet has its own.${this.shell === "kept" && this.keeps ? " They outlive a reload, and this list loads without a connection." : ""}</p>
      ${this.keeps ? nothing : html`<p><strong>This browser keeps no ticks: they are gone at a reload.</strong></p>`}
      ${off ? html`<p>${off}</p>` : nothing}
      <tablet-notices .sound=${"on"} .awake=${this.awake} .shell=${this.shell}></tablet-notices>
      <div class="choices">
        <label class="people"
          >People who lace
          <select ?disabled=${this.lost} @change=${(/** @type {Event} */ { target }) => this.#tell("crew", Number(/** @type {HTMLSelectElement} */ (target).value))}>
            ${[...new Set([...CREWS, list.crew])].map((people) => html`<option value=${people} ?selected=${people === list.crew}>${peopleInWords(people)}</option>`)}
          </select>
        </label>
        <button type="button" aria-pressed=${this.dark} @click=${() => this.#tell("dark", !this.dark)}>Always dark</button>
        <button type="button" ?disabled=${Object.keys(ticks).length === 0} @click=${this.#ask}>Take all ticks back</button>
      </div>
    </section>`;
  }

  #ask() {
    this.question = {
      title: "Take all ticks back?",
      text: "Every step and every check is open again on this device.",
      yes: "Take them back",
      no: "Leave them",
      named: false,
    };
  }

  /** @param {CustomEvent<{yes: boolean}>} event */
  #answered({ detail }) {
    this.question = null;
    if (detail.yes) this.#tell("again");
  }

  /** @param {CustomEvent<string>} event */
  #ticked({ detail }) {
    this.#tell("tick", detail);
  }

  /** @param {string} name @param {unknown} [detail] */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

customElements.define("threading-desk", ThreadingDesk);
