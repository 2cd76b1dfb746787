// @ts-check
// What is reported from the houses, one line a house; or the one line that answers this device.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";

/**
 * @typedef {import("./reports.js").HouseSaid} HouseSaid
 * @typedef {import("./reports.js").Said} Said
 */

/** What is said before the answer of what the server has. @type {Partial<Record<import("./reports.js").Fate, string>>} */
const TAKEN = { sent: "✓ sent, ", had: "✓ ", over: "✓ ", retracted: "✓ " };

/** What became of the last report of this device, as it is read out. @param {Said} said */
export function answeredInWords({ house, words, fate, answer }) {
  return `${placeOf(house)}: ${words}, ${(TAKEN[fate] ?? "").replace("✓ ", "")}${answer.replace("waiting", "waits")}`;
}

export class HouseReports extends LitElement {
  /** @override */
  static properties = {
    houses: { attribute: false },
    films: { attribute: false },
    latest: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      li,
      .latest {
        line-height: 1.2;
      }
      li {
        display: grid;
        grid-template-columns: auto 1fr;
        align-items: baseline;
        gap: 0.1rem 1.2rem;
        padding: 0.15rem 0;
      }
      .latest {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.1rem 1.2rem;
      }
      .house,
      .words {
        font-weight: 700;
      }
      .house {
        white-space: nowrap;
      }
      .said {
        grid-column: 2;
        display: flex;
        flex-wrap: wrap;
        align-items: baseline;
        gap: 0.1rem 0.7rem;
      }
      small {
        font-size: max(1rem, 0.65em);
        color: var(--ink-2);
      }
      .answer {
        display: inline-block;
        border: 2px solid transparent;
        border-radius: 0.25rem;
        padding: 0 0.4rem;
      }
      .had .answer,
      .over .answer,
      .retracted .answer {
        padding-left: 0;
      }
      .sent .answer {
        border-color: var(--watch);
      }
      .waiting .answer,
      .retracting .answer {
        border: 2px dashed var(--ink-2);
      }
      .refused .answer {
        background: var(--act);
        color: var(--act-ink);
        font-weight: 700;
      }
      .over,
      .retracted {
        color: var(--ink-2);
      }
      .over .words,
      .retracted .words {
        font-weight: 400;
      }
      .retracted .words {
        text-decoration: line-through;
      }
      button {
        font-size: 1rem;
      }
      p {
        flex: 1 1 14rem;
      }
      @media (max-width: 599px) {
        li {
          display: block;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {HouseSaid[]} */
    this.houses = [];
    /** Whether there are several, so that a house is named with its film. */
    this.films = false;
    /** The last report of this device, which is answered where it is in sight; null for none. @type {Said | null} */
    this.latest = null;
  }

  /** @override */
  render() {
    return html`${this.houses.length ? this.#list() : nothing}${this.latest ? this.#latest(this.latest) : nothing}`;
  }

  #list() {
    return html`<section aria-label="Reports from the houses">
      <ul>
        ${repeat(
          this.houses,
          ({ key }) => key,
          ({ house, film, answered }) => html`<li>
          <span class="house">${placeOf(house)}${this.films ? html` <small>${film}</small>` : nothing}</span>
          ${repeat(
            answered,
            ({ answer }) => answer,
            (each) => this.#answered(each),
          )}
        </li>`,
        )}
      </ul>
    </section>`;
  }

  /** @param {import("./reports.js").Answered} each */
  #answered({ fate, answer, said }) {
    return html`<span class="said ${fate}">
      ${repeat(
        said,
        ({ key }) => key,
        ({ words, since }) => html`<span><span class="words">${words}${since ? "" : ","}</span> ${since ? html`<small>${since}</small>` : nothing}</span>`,
      )}
      <span class="answer">${answer}</span> ${said.map((one) => this.#touches(one))}
    </span>`;
  }

  /** @param {Said} one */
  #latest(one) {
    const { house, words, fate, answer } = one;
    return html`<section class="latest ${fate}" aria-label="What became of it">
      <p role="group" aria-label="Your last report"><span class="words">${placeOf(house)}: ${words}</span> <span class="answer">${TAKEN[fate] ?? ""}${answer}</span></p>
      ${this.#touches(one)}
    </section>`;
  }

  /** @param {Said} one */
  #touches({ run, house, words, takeBack, putAway }) {
    const tell = (/** @type {string} */ name, /** @type {string} */ id) => this.dispatchEvent(new CustomEvent(name, { detail: { run, id } }));
    return html`${takeBack ? html`<button type="button" @click=${() => tell("takeback", takeBack)} aria-label="Take back ${placeOf(house)}: ${words}">Take back</button>` : nothing}${
      putAway
        ? html`<button type="button" @click=${() => tell("dismiss", putAway)} aria-label="Put away ${placeOf(house)}: ${words}">Put away</button>`
        : nothing
    }`;
  }
}

/** @param {string} house its number, or empty */
function placeOf(house) {
  return house ? `House ${house}` : "The start";
}

customElements.define("house-reports", HouseReports);
