// @ts-check
// Which runs stand beside the one that is gone through.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { dayText } from "./library.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").LibraryRun} LibraryLine */

export class RunPicker extends LitElement {
  /** @override */
  static properties = {
    own: { attribute: false },
    runs: { attribute: false },
    others: { attribute: false },
    most: { attribute: false },
    chosen: { state: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      details {
        padding-bottom: 0.5rem;
      }
      li label {
        display: flex;
        align-items: center;
        gap: 0.7rem;
        min-height: 3rem;
      }
      input {
        min-height: 0;
        min-width: 0;
        width: 1.3rem;
        height: 1.3rem;
        margin: 0;
        flex: none;
      }
      ul {
        max-height: 20rem;
        overflow-y: auto;
        margin-bottom: 0.6rem;
      }
      a {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0.4rem 1rem;
        border: 2px solid var(--ink);
        border-radius: 0.4rem;
        background: var(--surface);
        font-weight: 700;
      }
      p {
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {string[]} stations of the run that is gone through: only a run that shares one can stand beside it */
    this.own = [];
    /** @type {string[]} those that are chosen already, first the run itself */
    this.runs = [];
    /** @type {LibraryLine[] | null} null until they are known */
    this.others = null;
    /** How many may be chosen in all. */
    this.most = 8;
    /** @type {string[] | null} */
    this.chosen = null;
  }

  /** @override */
  render() {
    const [first] = this.runs;
    if (this.others === null) return nothing;
    const fit = this.others.filter(({ run, stations, fault }) => run !== first && fault === null && stations.some((id) => this.own.includes(id)));
    const chosen = this.chosen ?? this.runs.slice(1);
    if (fit.length === 0) return html`<p>No other run of this chain is in the library.</p>`;
    return html`<details ?open=${this.runs.length < 2}>
      <summary>Which runs stand beside it</summary>
      <ul>
        ${repeat(
          fit,
          ({ run }) => run,
          (line) => this.#line(line, chosen),
        )}
      </ul>
      ${chosen.length > 0 ? html`<a href=${this.#address([...this.runs.slice(0, 1), ...chosen])}>Take ${chosen.length === 1 ? "this run" : `these ${chosen.length} runs`} with it</a>` : nothing}
    </details>`;
  }

  /** @param {LibraryLine} line @param {string[]} chosen */
  #line({ run, title, day }, chosen) {
    const on = chosen.includes(run);
    const full = !on && chosen.length >= this.most - 1;
    const change = () => (this.chosen = on ? chosen.filter((each) => each !== run) : [...chosen, run]);
    return html`<li>
      <label><input type="checkbox" .checked=${on} ?disabled=${full} @change=${change} />${title}, ${dayText(day)} <span>(${run})</span></label>
    </li>`;
  }

  /** @param {string[]} runs */
  #address(runs) {
    return `?${new URLSearchParams(runs.map((run) => ["run", run]))}${window.location.hash}`;
  }
}

customElements.define("run-picker", RunPicker);
