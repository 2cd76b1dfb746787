// @ts-check
// The way in: which runs are live, and the desks of each.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { houseLines, showingInWords } from "../lobby/lobby.js";
import { deskAddress } from "../live/runs.js";
import { shared } from "../elements/shared.js";
import "../elements/lost-screen.js";

/** @typedef {import("../live/live.js").FollowedRun} FollowedRun */

export class RunChooser extends LitElement {
  /** @override */
  static properties = {
    runs: { attribute: false },
    lost: { type: Boolean, reflect: true },
    age_s: { attribute: false },
    refusal: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      main {
        max-width: 64rem;
        margin: 0 auto;
        padding: clamp(1rem, 3vw, 2.5rem);
      }
      :host([lost]) main {
        filter: grayscale(1);
      }
      h1 {
        font-size: clamp(1.6rem, 3vw, 2.4rem);
        line-height: 1.1;
        letter-spacing: -0.02em;
      }
      h2 {
        font-size: 1.4rem;
        line-height: 1.2;
      }
      li {
        padding: 1.2rem 0;
        border-bottom: 1px solid var(--rule);
      }
      p {
        color: var(--ink-2);
      }
      .demo {
        display: inline-block;
        border: 2px dashed var(--ink-2);
        border-radius: 0.3rem;
        margin-top: 0.3rem;
        padding: 0 0.6rem;
        color: var(--ink);
        font-weight: 600;
      }
      .fault {
        background: var(--act);
        color: var(--act-ink);
        border-radius: 0.3rem;
        margin-top: 0.3rem;
        padding: 0.3rem 0.7rem;
        font-weight: 700;
      }
      .desks {
        display: flex;
        flex-wrap: wrap;
        gap: 0.6rem;
        margin-top: 0.7rem;
      }
      a {
        display: inline-flex;
        align-items: center;
        gap: 0.4em;
        min-height: 3rem;
        padding: 0.4rem 1rem;
        border: 2px solid var(--ink-3);
        border-radius: 0.4rem;
        background: var(--surface);
        text-decoration: none;
      }
      a strong {
        text-decoration: underline;
        text-underline-offset: 0.2em;
      }
      a span {
        color: var(--ink-2);
      }
      a:hover {
        background: var(--lit);
      }
      .empty {
        font-size: 1.3rem;
        max-width: 34em;
        padding: 1.2rem 0;
      }
      code {
        color: var(--ink);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {FollowedRun[] | null} */
    this.runs = null;
    this.lost = false;
    this.age_s = 0;
    /** @type {import("../live/connection.js").Refusal | null} */
    this.refusal = null;
  }

  /** @override */
  render() {
    return html`
      <main>
        <h1>Live runs</h1>
        ${this.runs?.length ? this.#list(this.runs) : this.#empty()}
        <nav class="desks" aria-label="Every run">
          ${desk("/lobby", "Lobby", "every house in plain words")} ${desk("/library", "Library", "go through runs that are over")}
          ${desk("/plan", "Plans", "make and change what is to run")}
        </nav>
      </main>
      ${this.lost ? html`<lost-screen strip .age_s=${this.age_s} .refusal=${this.refusal} .todo=${"Is Festoon still running on its computer?"}></lost-screen>` : nothing}
    `;
  }

  #empty() {
    if (this.runs === null) return html`<p class="empty" role="status">Waiting for the server</p>`;
    return html`<p class="empty" role="status">
      No run is live. Start one on the server with a plan: <code>festoon serve PLAN</code>, or look at an invented show:
      <code>festoon demo</code>.
    </p>`;
  }

  /** @param {FollowedRun[]} runs */
  #list(runs) {
    return html`<ul>
      ${repeat(
        runs,
        ({ line }) => line.run,
        (run) => this.#run(run),
      )}
    </ul>`;
  }

  /** @param {FollowedRun} run */
  #run(run) {
    const { line, state } = run;
    const fault = state?.fault ?? line.fault;
    return html`<li>
      <h2>${line.title}</h2>
      <p>${line.site ? `${line.site} · ` : ""}motors ${dayAndTime(line)}</p>
      ${state ? html`<p>${showingInWords(houseLines([run]))}</p>` : nothing}
      ${line.demo ? html`<p class="demo">Demo: a simulated run</p>` : nothing}
      ${fault ? html`<p class="fault">This run no longer follows its events: ${fault}</p>` : nothing}
      <nav class="desks" aria-label=${line.title}>
        ${desk(deskAddress("wall", line.run), "Wall", "where the film is")} ${desk(deskAddress("booth", line.run), "Booth", "what to do next")}
      </nav>
    </li>`;
  }
}

/** @param {string} address @param {string} name @param {string} what */
function desk(address, name, what) {
  return html`<a href=${address}><strong>${name}</strong> <span>${what}</span></a>`;
}

/** When the motors are planned to start, by the house's calendar and clock. @param {import("../wire.js").RunLine} line */
function dayAndTime({ zero, timezone }) {
  return new Intl.DateTimeFormat(undefined, {
    weekday: "short",
    day: "numeric",
    month: "short",
    hour: "numeric",
    minute: "2-digit",
    timeZone: timezone,
  }).format(Date.parse(zero));
}

customElements.define("run-chooser", RunChooser);
