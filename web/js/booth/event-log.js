// @ts-check
// Who did what, latest first, and which of three each tap is: waiting to be sent, taken, or refused and why.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { clockText, houseClock } from "../words/format.js";
import { isOpen, isSpoken, isTap } from "./taps.js";
import { eventInWords, sourceInWords } from "../words/words.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("./taps.js").LogLine} LogLine */

const BACK_S = [2, 5, 10, 20]; // how long ago it may have been: chosen

/** @type {Record<LogLine["state"], string>} */
const STATE_WORDS = {
  waiting: "waiting to be sent",
  taken: "taken",
  refused: "refused",
  retracting: "taking back: waiting to be sent",
  retracted: "taken back",
};

/** How a tap was answered: which of three it is, and why. @param {LogLine} line */
function answerOf({ state, reason }) {
  return `${state === "taken" ? "✓ " : ""}${state === "waiting" && reason ? "waiting" : STATE_WORDS[state]}${reason ? `: ${reason}` : ""}`;
}

/** The line that answers a tap, as it is read out. @param {LogLine} line @param {import("../wire.js").RunInfo} info */
export function latestInWords(line, info) {
  return `Latest tap: ${eventInWords(line.event, info)}, ${answerOf(line).replace("✓ ", "")}`;
}

export class EventLog extends LitElement {
  /** @override */
  static properties = {
    lines: { attribute: false },
    info: { attribute: false },
    latest: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      li {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 0.6rem;
        min-height: 3.2rem;
        padding: 0.2rem 0;
        border-bottom: 1px solid var(--rule);
        font-size: 0.95rem;
        line-height: 1.25;
      }
      li > span {
        flex: 1 1 14rem;
      }
      :host([latest]) li {
        border: 0;
        font-size: 1.2rem;
      }
      .state {
        display: inline-block;
        padding: 0 0.4rem;
        border-radius: 0.25rem;
        border: 2px solid transparent;
      }
      .waiting .state,
      .retracting .state {
        border: 2px dashed var(--ink-2);
      }
      .refused .state {
        background: var(--act);
        color: var(--act-ink);
        font-weight: 700;
      }
      .taken .state {
        padding-left: 0;
        color: var(--ink-2);
      }
      .retracted .what {
        text-decoration: line-through;
        color: var(--ink-2);
      }
      time,
      .who {
        color: var(--ink-2);
      }
      button {
        flex: none;
      }
      .back {
        display: flex;
        align-items: center;
        gap: 0.3rem;
        font-size: 1rem;
      }
      p {
        color: var(--ink-2);
        padding: 0.7rem 0;
      }
    `,
  ];

  constructor() {
    super();
    /** @type {LogLine[]} */
    this.lines = [];
    /** @type {import("../wire.js").RunInfo | null} */
    this.info = null;
    /** Whether this is the one line that answers a tap. */
    this.latest = false;
  }

  /** @override */
  render() {
    const { info } = this;
    if (!info) return nothing;
    return html`<div role="group" aria-label=${this.latest ? "Latest tap" : "Who did what"}>
      ${this.lines.length ? nothing : html`<p>${this.latest ? "No tap yet: each tap is answered here." : "Nothing yet."}</p>`}
      <ul>
        ${repeat(
          this.lines,
          ({ event }) => event.id,
          (each) => this.#line(each, info),
        )}
      </ul>
    </div>`;
  }

  /** @param {LogLine} line @param {import("../wire.js").RunInfo} info */
  #line(line, info) {
    const { event, state } = line;
    const said = eventInWords(event, info);
    const at_s = (Date.parse(event.t) - Date.parse(info.zero)) / 1000;
    return html`<li class=${state}>
      <span>
        <span class="what">${said}</span> <time>${clockText(houseClock(info), at_s, true)}</time>
        <span class="who">${sourceInWords(event)}</span>
        ${isTap(event.source) ? html`<span class="state">${answerOf(line)}</span>` : nothing}
      </span>
      ${this.latest && isOpen(line) && !isSpoken(event.kind) ? this.#back(event) : nothing}
      ${isOpen(line) ? html`<button type="button" @click=${() => this.#tell("takeback", event.id)} aria-label="Take back ${said}">Take back</button>` : nothing}
      ${state === "refused" ? html`<button type="button" @click=${() => this.#tell("dismiss", event.id)} aria-label="Put away ${said}">Put away</button>` : nothing}
    </li>`;
  }

  /** @param {import("../wire.js").ObservedEvent} event */
  #back(event) {
    return html`<span class="back" role="group" aria-label="It was earlier: taken back and said again">
      earlier by
      ${BACK_S.map(
        (back_s) =>
          html`<button type="button" @click=${() => this.#tell("move", { event, back_s })} aria-label="About ${back_s} seconds earlier">${back_s} s</button>`,
      )}
    </span>`;
  }

  /** @param {string} name @param {unknown} detail */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

customElements.define("event-log", EventLog);
