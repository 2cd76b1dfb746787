// @ts-check
// The library: which run do we go through?

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { debriefAddress } from "./debriefs.js";
import { plural } from "../words/format.js";
import { ALL, archiveInWords, dayText, housesInWords, isNarrowed, lossInWords, stateInWords, troubleInWords } from "./library.js";
import { shared } from "../elements/shared.js";
import "./library-filters.js";
import "./recording-drop.js";
import "../elements/sure-question.js";

/**
 * @typedef {import("../wire.js").LibraryRun} LibraryLine
 * @typedef {"archive" | "restore" | "remove"} Act
 */

export class LibraryDesk extends LitElement {
  /** @override */
  static properties = {
    asked: { attribute: false },
    runs: { attribute: false },
    trouble: { attribute: false },
    dropTrouble: { attribute: false },
    told: { attribute: false },
    by: { attribute: false },
    archive: { attribute: false },
    sites: { attribute: false },
    following: { attribute: false },
    chosen: { state: true },
    pending: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 76rem;
        margin: 0 auto;
        padding: clamp(0.8rem, 2vw, 2rem);
        padding-bottom: 6rem;
        display: grid;
        gap: 1rem;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        justify-content: space-between;
        align-items: center;
        gap: 0.4rem 1.5rem;
      }
      h1 {
        font-size: clamp(1.5rem, 2.6vw, 2.2rem);
        line-height: 1.1;
        letter-spacing: -0.02em;
      }
      header a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
      }
      .count,
      .empty,
      .told {
        color: var(--ink-2);
      }
      .told {
        color: var(--ink);
      }
      .told:empty {
        display: none;
      }
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
      }
      .runs {
        border-top: 1px solid var(--rule);
      }
      .runs > li {
        display: grid;
        grid-template-columns: 3rem minmax(0, 1fr) auto;
        gap: 0.1rem 0.8rem;
        align-items: center;
        padding: 0.6rem 0;
        border-bottom: 1px solid var(--rule);
      }
      .choice {
        display: flex;
        align-items: center;
        justify-content: center;
        width: 3rem;
        min-height: 3rem;
        cursor: pointer;
      }
      .choice input {
        min-height: 0;
        min-width: 0;
        width: 1.5rem;
        height: 1.5rem;
        margin: 0;
      }
      h2 {
        font-size: 1.2rem;
        line-height: 1.2;
      }
      .day {
        font-weight: 400;
      }
      .about,
      .id {
        color: var(--ink-2);
      }
      .id {
        font-size: 0.85rem;
        overflow-wrap: anywhere;
      }
      .state {
        font-weight: 700;
      }
      .state + .state {
        margin-left: 0.6rem;
      }
      .state[data-state="running now"] {
        border: 2px solid var(--ink);
        border-radius: 0.3rem;
        padding: 0 0.5rem;
      }
      .state[data-state="standing"],
      .state[data-state="left standing"],
      .state[data-state="broken off"],
      .state[data-state="damaged"] {
        border: 2px solid var(--watch);
        border-radius: 0.3rem;
        padding: 0 0.5rem;
      }
      .state[data-state="a drill"] {
        border: 2px dashed var(--ink-2);
        border-radius: 0.3rem;
        padding: 0 0.5rem;
      }
      .archived {
        border: 2px dashed var(--ink-3);
        border-radius: 0.3rem;
        padding: 0 0.5rem;
        font-size: 0.9rem;
      }
      .acts {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
        justify-content: flex-end;
      }
      .acts a,
      .chosen a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0.4rem 0.9rem;
        border: 2px solid var(--ink);
        border-radius: 0.4rem;
        background: var(--surface);
        font-weight: 700;
      }
      .chosen {
        position: fixed;
        left: 0;
        right: 0;
        bottom: 0;
        display: flex;
        flex-wrap: wrap;
        gap: 0.6rem;
        align-items: center;
        padding: 0.7rem clamp(0.8rem, 2vw, 2rem);
        background: var(--ground);
        border-top: 2px solid var(--ink);
      }
      @media (max-width: 767px) {
        .runs > li {
          grid-template-columns: 3rem minmax(0, 1fr);
        }
        .acts {
          grid-column: 2;
          justify-content: flex-start;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./library.js").Asked} */
    this.asked = { ...ALL };
    /** @type {LibraryLine[] | null} null until they are known */
    this.runs = null;
    /** @type {import("../wire.js").ArchiveLag | null} null where this log is sent on to none */
    this.archive = null;
    /** Those of an archive, which only reads; null for a server's own log. @type {string[] | null} */
    this.sites = null;
    /** What the next page comes after. @type {string | null} */
    this.following = null;
    this.trouble = "";
    this.dropTrouble = "";
    /** What became of the last act. */
    this.told = "";
    this.by = "";
    /** @type {string[]} in the order in which they were chosen */
    this.chosen = [];
    /** @type {{act: Act, line: LibraryLine} | null} what waits for an answer */
    this.pending = null;
  }

  /** @override */
  render() {
    return html`
      <main>
        <header>
          <h1>Library of runs</h1>
          <nav aria-label="Desks">${this.sites ? html`<a href="/overview">Every site</a>` : html`<a href="/">Live runs</a> <a href="/plan">Plans</a>`}</nav>
        </header>
        ${this.sites ? nothing : html`<recording-drop .trouble=${this.dropTrouble}></recording-drop>`}
        <library-filters .asked=${this.asked} .sites=${this.sites}></library-filters>
        ${this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : nothing}
        ${this.archive ? this.#archive(archiveInWords(this.archive)) : nothing}
        <p class="told" role="status">${this.told}</p>
        ${this.runs === null ? html`<p class="empty" role="status">${this.trouble ? nothing : "Waiting for the server"}</p>` : this.#list(this.runs)}
      </main>
      ${this.#chosenBar()}
      <sure-question .question=${this.pending ? questionFor(this.pending) : null} .by=${this.by} @answer=${this.#answered}></sure-question>
    `;
  }

  /** @param {{text: string, look: boolean}} archive */
  #archive({ text, look }) {
    return html`<p class=${look ? "trouble" : "count"}>${text}</p>`;
  }

  /** @param {LibraryLine[]} runs */
  #list(runs) {
    if (runs.length === 0) {
      return html`<p class="empty" role="status">
        ${isNarrowed(this.asked) ? "No run fits what is asked for. Show all, or ask for less." : this.sites ? "No site has sent a run yet. A site sends what is in its log: festoon serve --archive ADDRESS." : "No run is in the log yet. A run is kept from the moment it is started: festoon serve PLAN. A recording can be opened above."}
      </p>`;
    }
    return html`
      <p class="count" role="status">${runs.length} ${plural(runs.length, "run")}, latest first${this.following === null ? "" : "; there are more"}</p>
      <ol class="runs" aria-label="Runs">
        ${repeat(
          runs,
          ({ run }) => run,
          (line) => this.#run(line),
        )}
      </ol>
      ${this.following === null ? nothing : html`<button type="button" @click=${() => this.dispatchEvent(new CustomEvent("more"))}>Show more runs</button>`}
    `;
  }

  /** @param {LibraryLine} line */
  #run(line) {
    const { run, day, site, plan_name, fault, live, archived } = line;
    const title = line.title ?? run;
    const name = `${title}, ${dayText(day)}`;
    return html`<li aria-label=${name}>
      <label class="choice"
        ><span class="unseen">Choose ${name}</span>
        <input type="checkbox" .checked=${this.chosen.includes(run)} ?disabled=${fault !== null} @change=${() => this.#choose(run)} />
      </label>
      <div>
        <h2>${title} <span class="day">${dayText(day)}</span></h2>
        <p>${stateInWords(line).map((words) => html`<span class="state" data-state=${words}>${words}</span> `)}</p>
        <p class="about">${[site, housesInWords(line), `${line.events} ${plural(line.events, "event")}`].filter((part) => part).join(" · ")}</p>
        <p class=${hasTrouble(line) ? "" : "about"}>${fault ?? troubleInWords(line.trouble)}</p>
        <p class="id">${run} · ${plan_name.split(/[\\/]/).pop()} ${archived ? html`<span class="archived">put away${archived.by ? ` by ${archived.by}` : ""}</span>` : nothing}</p>
      </div>
      <div class="acts">
        ${fault === null ? html`<a href=${debriefAddress([run])} aria-label="Go through ${name}">Go through it</a>` : nothing}
        ${live || this.sites ? nothing : archived ? this.#act("restore", line, "Bring back", name) : this.#act("archive", line, "Put away", name)}
        ${live || this.sites ? nothing : this.#act("remove", line, "Remove", name)}
      </div>
    </li>`;
  }

  /** @param {Act} act @param {LibraryLine} line @param {string} said @param {string} name */
  #act(act, line, said, name) {
    return html`<button type="button" aria-label="${said}: ${name}" @click=${() => (this.pending = { act, line })}>${said}</button>`;
  }

  /** @param {string} run */
  #choose(run) {
    this.chosen = this.chosen.includes(run) ? this.chosen.filter((each) => each !== run) : [...this.chosen, run];
  }

  #chosenBar() {
    const { chosen } = this;
    if (chosen.length === 0) return nothing;
    return html`<nav class="chosen" aria-label="Chosen runs">
      <span>${chosen.length} ${plural(chosen.length, "run")} chosen</span>
      ${
        chosen.length === 1
          ? html`<a href=${debriefAddress(chosen)}>Go through it</a> <span>Choose another one to compare or to learn from both.</span>`
          : html`<a href=${debriefAddress(chosen, "compare")}>Compare them</a> <a href=${debriefAddress(chosen, "learn")}>Change the plan by them</a>`
      }
      <button type="button" @click=${() => (this.chosen = [])}>Choose none</button>
    </nav>`;
  }

  /** @param {CustomEvent<{yes: boolean, by: string}>} event */
  #answered({ detail: { yes, by } }) {
    const { pending } = this;
    this.pending = null;
    if (pending && yes) this.dispatchEvent(new CustomEvent("act", { detail: { act: pending.act, run: pending.line.run, by } }));
  }
}

/** @param {LibraryLine} line */
function hasTrouble({ trouble, fault }) {
  return fault !== null || Object.values(trouble ?? {}).some((count) => count > 0);
}

/** @param {{act: Act, line: LibraryLine}} pending @returns {import("../elements/sure-question.js").Question} */
function questionFor({ act, line }) {
  const name = `${line.title ?? line.run} of ${dayText(line.day)}`;
  switch (act) {
    case "archive":
      return {
        title: `Put ${name} away?`,
        text: "Nothing is lost: it is left out of the list until it is asked for, and can be brought back.",
        yes: "Put it away",
        no: "Leave it",
        named: true,
      };
    case "restore":
      return { title: `Bring ${name} back?`, text: "It stands in the list again.", yes: "Bring it back", no: "Leave it away", named: true };
    case "remove":
      return { title: `Remove ${name} for good?`, text: `This is lost: ${lossInWords(line)}`, yes: "Remove it for good", no: "Keep it", named: false };
  }
}

customElements.define("library-desk", LibraryDesk);
