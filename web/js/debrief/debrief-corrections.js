// @ts-check
// What was tapped wrong is put right and what was not tapped is added, with who says so and why.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { fieldTime, momentFromClock } from "../words/clocktimes.js";
import { ADDABLE, addedWords, canMove, canRetract, correctionFrom, isSeen, missingFrom, needs, needsHouse, stationsFor } from "./corrections.js";
import { clockText, houseClock } from "../words/format.js";
import { hasPart, sourceInWords } from "./moments.js";
import { eventInWords } from "../words/words.js";
import { shared } from "../elements/shared.js";
import "./data-table.js";

/**
 * @typedef {import("../wire.js").ArrivedEvent} KnownEvent
 * @typedef {import("./corrections.js").Draft} Draft
 * @typedef {import("../words/kinds.js").EventKind} EventKind
 */

const SIGMA_S = 1; // how sure a time is that is remembered or read off a clock: chosen

export class DebriefCorrections extends LitElement {
  /** @override */
  static properties = {
    debrief: { attribute: false },
    events: { attribute: false },
    table: { attribute: false },
    at_s: { attribute: false },
    by: { attribute: false },
    told: { attribute: false },
    asked: { state: true },
    draft: { state: true },
    time: { state: true },
    missing: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: grid;
        grid-template-columns: minmax(0, 1fr) minmax(19rem, 26rem);
        gap: 0.6rem 1.6rem;
        padding: 0.8rem 0 2rem;
        align-items: start;
      }
      h2 {
        font-size: 1.25rem;
        line-height: 1.2;
      }
      .lead,
      .told {
        grid-column: 1 / -1;
        max-width: 60rem;
        color: var(--ink-2);
      }
      .told {
        color: var(--ink);
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
      }
      .told:empty {
        display: none;
      }
      form {
        position: sticky;
        top: 0.5rem;
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        padding: 0.8rem 1rem 1rem;
        display: grid;
        gap: 0.6rem;
      }
      form > label {
        display: grid;
        gap: 0.15rem;
        font-size: 0.9rem;
        color: var(--ink-2);
      }
      form > label > input,
      form > label > select {
        color: var(--ink);
        width: 100%;
      }
      fieldset {
        border: 0;
        margin: 0;
        padding: 0;
      }
      fieldset label {
        display: flex;
        align-items: center;
        gap: 0.6rem;
        min-height: 3rem;
        color: var(--ink);
      }
      fieldset input {
        min-height: 0;
        min-width: 0;
        flex: none;
        width: 1.2rem;
        height: 1.2rem;
        margin: 0;
      }
      .missing {
        border-left: 4px solid var(--watch);
        padding-left: 0.7rem;
      }
      .buttons {
        display: flex;
        flex-wrap: wrap;
        gap: 0.5rem;
      }
      .send {
        font-weight: 700;
        border-color: var(--ink);
      }
      .events {
        max-height: 62vh;
        overflow-y: auto;
        margin-top: 0.5rem;
        border-top: 1px solid var(--rule);
      }
      .events li {
        display: grid;
        grid-template-columns: 5.6rem minmax(0, 1fr) auto;
        gap: 0 0.6rem;
        align-items: center;
        padding: 0.3rem 0;
        border-bottom: 1px solid var(--rule);
      }
      .events small {
        display: block;
        color: var(--ink-2);
        font-size: 0.85rem;
      }
      .undone .what {
        text-decoration: line-through;
        color: var(--ink-2);
      }
      .find {
        display: grid;
        font-size: 0.9rem;
        color: var(--ink-2);
        padding-top: 0.4rem;
      }
      .history {
        grid-column: 1 / -1;
        padding-top: 1rem;
      }
      @media (max-width: 899px) {
        :host {
          grid-template-columns: minmax(0, 1fr);
        }
        form {
          position: static;
          grid-row: 3;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../wire.js").DebriefInfo | null} */
    this.debrief = null;
    /** @type {KnownEvent[]} */
    this.events = [];
    /** @type {import("../wire.js").TableDocument | null} */
    this.table = null;
    this.at_s = 0;
    this.by = "";
    /** What became of the last correction. */
    this.told = "";
    this.asked = "";
    /** @type {Draft} */
    this.draft = emptyDraft("add", null);
    this.time = "";
    this.missing = "";
  }

  /** @override @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (changed.has("told") && this.told.startsWith("Taken")) this.#begin("add", null);
    else if (changed.has("debrief") && this.time === "") this.#begin("add", null);
  }

  /** @override */
  render() {
    const { debrief } = this;
    if (!debrief) return nothing;
    if (debrief.source === "archive") {
      return html`<p class="lead">This is the archive's copy. What is put right at the run's own site comes here by itself.</p>`;
    }
    if (debrief.source === "recording") {
      return html`<p class="lead">This is a recording: a file. Change the file and drop it again; what is in the log of runs can be put right here.</p>`;
    }
    return html`
      <p class="lead">
        Nothing is ever taken out of the log. A correction is added to it, with your name, the time and your reason. Then everything is worked out again.
      </p>
      <p class="told" role="status">${this.told}</p>
      <section aria-label="What was observed">
        <h2>What was observed</h2>
        <label class="find"
          >Find
          <input type="search" placeholder="a house, a mark, a time" .value=${this.asked} @input=${this.#ask} />
        </label>
        <ol class="events" tabindex="0" aria-label="Events">
          ${repeat(
            this.#found(),
            ({ seq }) => seq,
            (known) => this.#event(known, debrief),
          )}
        </ol>
      </section>
      ${this.#form(debrief)}
      <section class="history" aria-label="Corrections so far">
        <h2>Corrections so far</h2>
        <data-table .table=${this.table} .clock=${houseClock(debrief.info)} .empty=${"Nothing was corrected."}></data-table>
      </section>
    `;
  }

  #found() {
    const { debrief } = this;
    if (!debrief) return [];
    const clock = houseClock(debrief.info);
    const words = this.asked
      .toLowerCase()
      .split(/\s+/)
      .filter((word) => word !== "");
    return this.events.filter((known) => {
      if (!isSeen(known)) return false;
      const said = [eventInWords(known.event, debrief.info), known.event.by ?? "", sourceInWords(known.event.source)].join(" ").toLowerCase();
      const time = clockText(clock, known.at_s, true, true);
      return words.every((word) => said.includes(word) || hasPart(time, word));
    });
  }

  /** @param {KnownEvent} known @param {import("../wire.js").DebriefInfo} debrief */
  #event(known, { info }) {
    const said = eventInWords(known.event, info);
    const more = [sourceInWords(known.event.source), known.event.by ? `by ${known.event.by}` : "", known.retracted_by === null ? "" : "taken back"];
    return html`<li class=${known.retracted_by === null ? "" : "undone"}>
      <time>${clockText(houseClock(info), known.at_s, true, true)}</time>
      <span><span class="what">${said}</span><small>${more.filter((part) => part !== "").join(", ")}</small></span>
      ${canRetract(known) ? html`<button type="button" aria-label="Put right: ${said}" @click=${() => this.#begin(canMove(known) ? "move" : "retract", known)}>Put right</button>` : nothing}
    </li>`;
  }

  /** @param {import("../wire.js").DebriefInfo} debrief */
  #form({ info }) {
    const { draft } = this;
    return html`<form aria-label="Correction" @submit=${this.#send}>
      <h2>${draft.known ? eventInWords(draft.known.event, info) : "Add what was not tapped"}</h2>
      ${draft.known ? this.#whichWrong(draft.known) : this.#whatHappened(info)} ${draft.what === "retract" ? nothing : this.#when(info)}
      <label>Who corrects it <input name="by" autocomplete="name" required .value=${draft.by} @input=${this.#write("by")} /></label>
      <label>Why, in a few words <input name="why" .value=${draft.why} @input=${this.#write("why")} /></label>
      ${this.missing ? html`<p class="missing" role="alert">${this.missing}</p>` : nothing}
      <div class="buttons">
        <button class="send">${sendWords(draft)}</button>
        ${draft.known ? html`<button type="button" @click=${() => this.#begin("add", null)}>Leave it as it is</button>` : nothing}
      </div>
    </form>`;
  }

  /** @param {KnownEvent} known */
  #whichWrong(known) {
    const choice = (/** @type {"retract" | "move"} */ what, /** @type {string} */ said) => html`<label>
      <input type="radio" name="what" .checked=${this.draft.what === what} @change=${() => this.#set({ what })} />${said}
    </label>`;
    return html`<fieldset>
      <legend class="unseen">What is wrong with it</legend>
      ${choice("retract", "It did not happen")} ${canMove(known) ? choice("move", "It happened at another time") : nothing}
    </fieldset>`;
  }

  /** @param {import("../wire.js").RunInfo} info */
  #whatHappened(info) {
    const { draft } = this;
    const { kind } = draft;
    return html`
      <label>What happened ${select(
        ADDABLE.map((each) => [each, addedWords(each)]),
        kind,
        (chosen) => this.#setKind(/** @type {EventKind} */ (chosen), info),
      )}</label>
      ${
        needsHouse(kind)
          ? html`<label>House ${select(
              stationsFor(kind, info.stations).map(({ id, house }) => [id, house]),
              draft.station,
              (station) => this.#set({ station }),
            )}</label>`
          : nothing
      }
      ${
        needs(kind, "mark")
          ? html`<label>Mark ${select(
              info.marks.map(({ id, title }) => [id, title]),
              draft.mark,
              (mark) => this.#set({ mark }),
            )}</label>`
          : nothing
      }
      ${needs(kind, "text") ? html`<label>Note <input name="text" .value=${draft.text} @input=${this.#write("text")} /></label>` : nothing}
      ${needs(kind, "seconds") ? html`<label>Seconds of film, over is +, under is - <input name="text" inputmode="decimal" .value=${draft.text} @input=${this.#write("text")} /></label>` : nothing}
    `;
  }

  /** @param {import("../wire.js").RunInfo} info */
  #when(info) {
    const { draft } = this;
    const meant = this.#meant(info);
    const as = (/** @type {"read" | "tap"} */ how, /** @type {string} */ said) => html`<label>
      <input type="radio" name="as" .checked=${draft.as === how} @change=${() => this.#set({ as: how })} />${said}
    </label>`;
    return html`
      <label>When, on the house's clock <input type="time" name="time" step="0.1" .value=${this.time} @input=${this.#writeTime} /></label>
      ${draft.known && meant !== null ? html`<p>${movedWords(meant - draft.known.at_s)}</p>` : nothing}
      <fieldset>
        <legend class="unseen">How that time is known</legend>
        ${as("read", "It happened at that time")} ${as("tap", "It would have been tapped at that time")}
      </fieldset>
      ${
        draft.as === "read"
          ? html`<label>Sure to within, in seconds <input name="sigma" type="number" min="0.001" step="any" .value=${String(draft.sigma_s)} @input=${this.#writeSigma} /></label>`
          : nothing
      }
    `;
  }

  /** @param {"retract" | "move" | "add"} what @param {KnownEvent | null} known */
  #begin(what, known) {
    const info = this.debrief?.info;
    const draft = emptyDraft(what, known);
    this.draft = { ...draft, by: this.by, station: info?.stations[0]?.id ?? "", mark: info?.marks.find(({ kind }) => kind !== "leader")?.id ?? "" };
    this.missing = "";
    if (info) this.time = fieldTime(houseClock(info), known?.at_s ?? this.at_s, 1);
  }

  /** @param {Partial<Draft>} change */
  #set(change) {
    this.draft = { ...this.draft, ...change };
  }

  /** @param {EventKind} kind @param {import("../wire.js").RunInfo} info */
  #setKind(kind, info) {
    const stations = stationsFor(kind, info.stations).map(({ id }) => id);
    this.#set({ kind, station: stations.includes(this.draft.station) ? this.draft.station : (stations[0] ?? "") });
  }

  /** @param {"by" | "why" | "text"} key */
  #write(key) {
    return (/** @type {Event} */ { target }) => this.#set({ [key]: /** @type {HTMLInputElement} */ (target).value });
  }

  /** @param {Event} event */
  #writeTime({ target }) {
    this.time = /** @type {HTMLInputElement} */ (target).value;
  }

  /** @param {Event} event */
  #writeSigma({ target }) {
    this.#set({ sigma_s: Number(/** @type {HTMLInputElement} */ (target).value) });
  }

  /** @param {Event} event */
  #ask({ target }) {
    this.asked = /** @type {HTMLInputElement} */ (target).value;
  }

  /** The moment that the time field means. @param {import("../wire.js").RunInfo} info */
  #meant(info) {
    return momentFromClock(houseClock(info), this.time, this.draft.known?.at_s ?? this.at_s);
  }

  /** @param {Event} event */
  #send(event) {
    event.preventDefault();
    const info = this.debrief?.info;
    if (!info) return;
    const draft = { ...this.draft, at_s: this.#meant(info) };
    this.missing = missingFrom(draft);
    if (this.missing) return;
    this.dispatchEvent(new CustomEvent("named", { detail: draft.by.trim(), bubbles: true, composed: true }));
    this.dispatchEvent(new CustomEvent("correct", { detail: correctionFrom(draft, info.zero), bubbles: true, composed: true }));
  }
}

/** @param {"retract" | "move" | "add"} what @param {KnownEvent | null} known @returns {Draft} */
function emptyDraft(what, known) {
  return { what, known, kind: "mark_pass", station: "", mark: "", text: "", at_s: null, as: "read", sigma_s: SIGMA_S, by: "", why: "" };
}

/** @param {Draft} draft */
function sendWords({ what }) {
  return { retract: "Take it back", move: "Move it to that time", add: "Add it" }[what];
}

/** @param {number} by_s */
function movedWords(by_s) {
  if (Math.abs(by_s) < 0.05) return "That is when it counts already.";
  return `${Math.abs(by_s).toFixed(1)} s ${by_s > 0 ? "later" : "earlier"} than it counts now.`;
}

/** @param {[string, string][]} options @param {string} chosen @param {(value: string) => void} choose */
function select(options, chosen, choose) {
  return html`<select @change=${(/** @type {Event} */ { target }) => choose(/** @type {HTMLSelectElement} */ (target).value)}>
    ${options.map(([value, name]) => html`<option value=${value} ?selected=${value === chosen}>${name}</option>`)}
  </select>`;
}

customElements.define("debrief-corrections", DebriefCorrections);
