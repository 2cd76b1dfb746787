// @ts-check
// What is wrong, and what to do about it; in the quiet state one line that says so. Film in the light has a block of its own.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import {
  LEVEL_WORDS,
  alike,
  boardFrom,
  followsInWords,
  isSaid,
  saidText,
  todoBeside,
  wentOffAlone,
  wentOffInWords,
  wordsOf,
  wordsOfAlike,
} from "../live/alarms.js";
import { clockText, countInWords, timeText } from "../words/format.js";
import { HOLD_ASKED_MIN } from "../words/kinds.js";
import { holdBy } from "../live/restart.js";
import { asksToHold, openAt, waysToBeOver } from "../lobby/troubles.js";
import { shared } from "./shared.js";

/**
 * @typedef {import("../wire.js").Alarm} Alarm
 * @typedef {import("../live/alarms.js").AlarmGroup} AlarmGroup
 */

const LARGE = 2; // alarms shown large, film in the light among them; the rest take one line each: chosen
const SHELVED_MIN = [5, 15, 30]; // chosen
const SIZES = ["", "", "several", "several many"]; // by how many there are: the more, the smaller, so that the film stays in sight

export class AlarmBoard extends LitElement {
  /** @override */
  static properties = {
    alarms: { attribute: false },
    prompts: { attribute: false },
    reports: { attribute: false },
    start: { attribute: false },
    clock: { attribute: false },
    quiet: { attribute: false },
    now_s: { attribute: false },
    recovering: { attribute: false },
    most: { attribute: false },
    inHand: { type: Boolean, attribute: "in-hand" },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      ul {
        display: flex;
        flex-wrap: wrap;
        gap: 0.5rem;
      }
      .quiet {
        font-size: 1.2rem;
        line-height: 1.15;
        font-weight: 500;
        color: var(--ink-2);
        padding: 0.2rem 0;
      }
      .alarm {
        padding: 0.6rem 1rem 0.7rem;
        border-radius: 0.4rem;
        border: 3px solid transparent;
        flex: 1 1 24rem;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
        border-color: var(--act);
      }
      .watch {
        border-color: var(--watch);
      }
      .note {
        padding: 0.1rem 0;
        border-radius: 0;
        border-width: 0;
        flex-basis: 100%;
        color: var(--ink-2);
      }
      .level {
        font-size: 1rem;
        font-weight: 700;
      }
      .todo {
        font-size: var(--far-todo, 1.5rem);
        line-height: 1.1;
        font-weight: 700;
        text-wrap: balance;
        -webkit-line-clamp: var(--lines-todo, none);
      }
      .several .todo {
        font-size: var(--far-todo, 1.35rem);
      }
      .alarm.watch .todo {
        font-weight: 600;
      }
      .many .alarm {
        padding: 0.3rem 0.8rem 0.4rem;
      }
      .text {
        font-size: 1.1rem;
        line-height: 1.25;
        margin-top: 0.2rem;
        -webkit-line-clamp: var(--lines-text, none);
      }
      .alarm.note .todo,
      .note .text,
      .alarm.line .todo,
      .line .text {
        display: inline;
        font-size: 1.05rem;
        font-weight: 400;
      }
      .line {
        flex-basis: 100%;
        padding: 0.3rem 1rem;
      }
      .line .todo {
        font-weight: 700;
      }
      .follows,
      .more {
        display: block;
        font-size: 0.95rem;
        line-height: 1.3;
        margin-top: 0.25rem;
      }
      .text.clamped,
      .follows.clamped {
        display: var(--spare, -webkit-box);
      }
      .follows.clamped {
        -webkit-line-clamp: var(--lines-text, none);
      }
      .more {
        display: flow-root;
        color: var(--ink-2);
      }
      button {
        color: var(--ink);
      }
      .more button {
        float: right;
        margin: 0 0 0.3rem 0.8rem;
      }
      .all {
        display: flex;
        flex-wrap: wrap;
        align-items: flex-start;
        gap: 0.8rem;
      }
      .all details {
        flex: 1 1 8rem;
        min-width: 0;
      }
      .all li {
        flex-basis: 100%;
      }
      .answers {
        float: right;
        display: flex;
        flex-direction: column;
        align-items: flex-end;
        gap: 0.3rem;
        margin: 0 0 0.2rem 0.8rem;
      }
      .line .answers {
        flex-direction: row-reverse;
        align-items: center;
      }
      .answers summary {
        color: inherit;
        text-decoration-color: currentcolor;
        text-align: end;
      }
      .answers details {
        text-align: end;
      }
      .count {
        font-size: var(--far);
        line-height: 1.1;
        color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Alarm[]} */
    this.alarms = [];
    /** What is to be done, by deadline: what came at once stands in its order. @type {import("../wire.js").Prompt[]} */
    this.prompts = [];
    /** What the houses said, where that is answered here. @type {import("../wire.js").HouseReport[]} */
    this.reports = [];
    /** By how much the first start is held, and when it is to be. */
    this.start = { hold_s: 0, start_s: Infinity };
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    /** What to say where nothing is wrong; empty where the desk's headline says it. */
    this.quiet = "";
    /** What went off long ago is left out. */
    this.now_s = -Infinity;
    /** The links whose slack comes back. @type {Set<string>} */
    this.recovering = new Set();
    /** How many are told at most; how many more there are is said. */
    this.most = Infinity;
    /** Whether alarms can be acknowledged and shelved here. */
    this.inHand = false;
    this.large = LARGE;
  }

  /** @override */
  render() {
    const { heat, groups: told, returned, shelved } = boardFrom(this.alarms, this.now_s, this.prompts);
    const groups = told.map(({ alarm, follows }) => ({ alarm: { ...alarm, todo: todoBeside(alarm, heat) }, follows }));
    this.large = heat.length ? 1 : LARGE;
    const isQuiet = heat.length + groups.filter(({ alarm }) => alarm.level !== "note").length === 0;
    const worst = groups[0]?.alarm;
    const most = this.most - Number(heat.length > 0);
    const more = Math.max(0, groups.length - most);
    return html`
      <h2 class="unseen">Alarms</h2>
      ${isQuiet && this.quiet ? html`<p class="quiet">${this.quiet}</p>` : nothing}
      <ul class=${SIZES[Math.min(groups.filter(({ alarm }) => alarm.level !== "note").length, SIZES.length - 1)]}>
        ${repeat(
          this.#bundles(groups.slice(0, most)),
          ([{ alarm }]) => alarm.key,
          (bundle, place) => (bundle.length > 1 ? this.#line(bundle) : this.#group(bundle[0], place < this.large)),
        )}
      </ul>
      ${more ? html`<p class="more count">and ${countInWords(more)} more</p>` : nothing}
      ${this.#asides(returned, shelved, heat.length > 0 || worst?.level === "act")}
    `;
  }

  /** Where alarms are answered each keeps its own buttons. @param {AlarmGroup[]} groups @returns {[AlarmGroup, ...AlarmGroup[]][]} */
  #bundles(groups) {
    const single = this.inHand ? groups.length : this.large;
    const rest = alike(groups.slice(single));
    return /** @type {[AlarmGroup, ...AlarmGroup[]][]} */ ([...groups.slice(0, single).map((group) => [group]), ...rest]);
  }

  /** Several alarms of one kind in one line. @param {[AlarmGroup, ...AlarmGroup[]]} bundle */
  #line(bundle) {
    const [{ alarm }] = bundle;
    const alarms = bundle.map((group) => group.alarm);
    const said = wordsOfAlike(
      alarms,
      alarms.every(({ subject }) => this.recovering.has(subject)),
    );
    return html`<li class="alarm ${alarm.level} line" aria-label="${LEVEL_WORDS[alarm.level]}: ${said}"><p class="todo">${said}</p></li>`;
  }

  /** @param {AlarmGroup} group @param {boolean} large */
  #group(group, large) {
    const { alarm, follows } = group;
    const [first, second] = this.#words(alarm);
    const clamped = large && !this.inHand ? "clamped" : "";
    return html`<li class="alarm ${alarm.level} ${large ? "" : "line"}" aria-label="${LEVEL_WORDS[alarm.level]}: ${saidText(alarm)}">
      ${this.inHand ? this.#answers(alarm) : nothing}
      ${alarm.level === "note" || !large ? nothing : html`<p class="level">${this.#heading(alarm)}</p>`}
      <p class="todo ${clamped}">${first}</p>
      ${second && (large || !isSaid(alarm)) ? html`<p class="text ${clamped}">${large ? "" : "· "}${second}</p>` : nothing}
      ${follows.length ? html`<small class="follows ${clamped}">Follows from it: ${followsInWords(group)}</small>` : nothing}
    </li>`;
  }

  /** @param {Alarm} alarm */
  #words(alarm) {
    return wordsOf(alarm, this.recovering.has(alarm.subject));
  }

  /** @param {Alarm} alarm */
  #heading(alarm) {
    const since = `${alarm.kind === "call" ? "Call" : LEVEL_WORDS[alarm.level]} · since ${timeText(this.clock, alarm.since_s, this.now_s, true)}`;
    if (alarm.state !== "acknowledged") return since;
    const who = alarm.acked_by ?? "somebody";
    return alarm.kind === "house_report" ? `${since} · ${who} has it` : `${since} · acknowledged by ${who}`;
  }

  /** @param {Alarm} alarm */
  #answers(alarm) {
    if (alarm.kind === "call") return html`<div class="answers">${this.#acknowledge(alarm)}</div>`;
    const isReport = alarm.kind === "house_report";
    if (isReport && alarm.state !== "acknowledged") {
      return html`<div class="answers">${this.#holdAsked(alarm)} ${this.#acknowledge(alarm)} ${this.#seenTo(alarm)}</div>`;
    }
    return html`<div class="answers">
      ${isReport ? this.#holdAsked(alarm) : nothing} ${isReport ? this.#seenTo(alarm) : this.#acknowledge(alarm)}
      <details>
        <summary aria-label="Shelve: ${saidText(alarm)}">Shelve</summary>
        ${SHELVED_MIN.map((minutes) => html`<button type="button" @click=${() => this.#shelve(alarm, minutes)} aria-label="Shelve for ${minutes} minutes: ${saidText(alarm)}">${minutes} min</button>`)}
      </details>
    </div>`;
  }

  /** @param {Alarm} alarm */
  #acknowledge(alarm) {
    if (alarm.state === "acknowledged") return nothing;
    const acknowledge = () => this.dispatchEvent(new CustomEvent("acknowledge", { detail: alarm.key }));
    const label = alarm.kind === "house_report" && alarm.state !== "returned" ? "I have it" : "Acknowledge";
    return html`<button type="button" @click=${acknowledge} aria-label="${label}: ${saidText(alarm)}">${label}</button>`;
  }

  /** What the lobby asked for is confirmed by one touch; by two at once it is the same start. @param {Alarm} alarm */
  #holdAsked({ subject, text }) {
    if (!openAt(this.reports, subject).some(asksToHold)) return nothing;
    const hold = () => this.dispatchEvent(new CustomEvent("tap", { detail: holdBy(this.start, HOLD_ASKED_MIN, this.now_s) }));
    return html`<button type="button" @click=${hold} aria-label="Hold ${HOLD_ASKED_MIN} min: ${text}">Hold ${HOLD_ASKED_MIN} min</button>`;
  }

  /** What a house reported is over by one touch, whoever has it. @param {Alarm} alarm */
  #seenTo({ subject, text }) {
    return waysToBeOver(openAt(this.reports, subject)).map(({ label, done }) => {
      const over = () => this.dispatchEvent(new CustomEvent("tap", { detail: done }));
      return html`<button type="button" @click=${over} aria-label="${label}: ${text}">${label}</button>`;
    });
  }

  /** @param {Alarm} alarm @param {number} minutes 0 ends it */
  #shelve({ key }, minutes) {
    this.dispatchEvent(new CustomEvent("shelve", { detail: { alarm: key, seconds: minutes * 60 } }));
  }

  /** @param {Alarm[]} returned @param {Alarm[]} shelved @param {boolean} act whether something has to be done: then the rest is short */
  #asides(returned, shelved, act) {
    const isMany = returned.length > (act && !this.inHand ? 0 : LARGE);
    return html`
      ${isMany ? this.#allReturned(returned) : returned.map((alarm) => html`<p class="more">${this.inHand ? this.#acknowledge(alarm) : nothing} ${wentOffAlone(alarm)}: ${saidText(alarm)}</p>`)}
      ${shelved.slice(0, this.most).map((alarm) => html`<p class="more">${this.inHand ? this.#unshelve(alarm) : nothing} Shelved until ${clockText(this.clock, alarm.shelved_until_s ?? 0)}: ${saidText(alarm)}</p>`)}
      ${shelved.length > this.most ? html`<p class="more">and ${countInWords(shelved.length - this.most)} more shelved</p>` : nothing}
    `;
  }

  /** More than a person reads one by one, and in hand one touch for all of them. @param {Alarm[]} returned */
  #allReturned(returned) {
    const said = wentOffInWords(returned.length);
    if (!this.inHand) return html`<p class="more">${said}, not acknowledged</p>`;
    const acknowledge = () => returned.forEach(({ key }) => this.dispatchEvent(new CustomEvent("acknowledge", { detail: key })));
    return html`<div class="more all">
      <details>
        <summary>${said}</summary>
        <ul aria-label="Went off, not acknowledged">${repeat(
          returned,
          ({ key }) => key,
          (alarm) => html`<li>${saidText(alarm)}</li>`,
        )}</ul>
      </details>
      <button type="button" @click=${acknowledge} aria-label="Acknowledge all: ${said}">Acknowledge all</button>
    </div>`;
  }

  /** @param {Alarm} alarm */
  #unshelve(alarm) {
    return html`<button type="button" @click=${() => this.#shelve(alarm, 0)} aria-label="End shelving: ${saidText(alarm)}">End shelving</button>`;
  }
}

customElements.define("alarm-board", AlarmBoard);
