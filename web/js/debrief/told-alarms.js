// @ts-check
// The alarms that people had been told of at a moment that is past: a line each, the worst first.

import { LitElement, css, html, repeat } from "../../vendor/lit.js";
import { LEVEL_WORDS, boardFrom } from "../live/alarms.js";
import { clockText } from "../words/format.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").Alarm} Alarm */

export class ToldAlarms extends LitElement {
  /** @override */
  static properties = { alarms: { attribute: false }, clock: { attribute: false }, quiet: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        min-height: 2.1rem;
      }
      ul {
        display: flex;
        flex-wrap: wrap;
        gap: 0.3rem 1.6rem;
      }
      p {
        color: var(--ink-2);
        padding: 0.2rem 0;
      }
      li {
        padding: 0.2rem 0;
      }
      .level {
        font-weight: 700;
        padding: 0 0.45rem;
        margin-right: 0.4rem;
        border-radius: 0.25rem;
        border: 2px solid transparent;
      }
      .act {
        background: var(--act);
        color: var(--act-ink);
      }
      .watch {
        border-color: var(--watch);
      }
      .note {
        padding: 0;
      }
      small {
        font-size: 0.85rem;
        color: var(--ink-2);
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Alarm[]} */
    this.alarms = [];
    /** @type {import("../words/format.js").HouseClock} */
    this.clock = { zero_ms: 0, timezone: "UTC" };
    /** What to say where nothing was wrong. */
    this.quiet = "";
  }

  /** @override */
  render() {
    const { heat, groups: others, shelved } = boardFrom(this.alarms);
    const groups = [...heat.map((alarm) => ({ alarm, follows: /** @type {Alarm[]} */ ([]) })), ...others];
    if (groups.length + shelved.length === 0) return html`<p>${this.quiet}</p>`;
    return html`<ul aria-label="Alarms at this moment">
      ${repeat(
        groups,
        ({ alarm }) => alarm.key,
        ({ alarm, follows }) => this.#alarm(alarm, follows),
      )}
      ${shelved.map(({ text }) => html`<li><small>Set aside:</small> ${text}</li>`)}
    </ul>`;
  }

  /** @param {Alarm} alarm @param {Alarm[]} follows */
  #alarm({ level, text, since_s, state, acked_by }, follows) {
    const seen = state === "acknowledged" ? `, seen${acked_by ? ` by ${acked_by}` : ""}` : ", not seen yet";
    const followed = follows.length ? `; from it: ${follows.map((each) => each.text).join("; ")}` : "";
    return html`<li>
      <span class="level ${level}">${LEVEL_WORDS[level]}</span>${text}
      <small>since ${clockText(this.clock, since_s, true)}${level === "note" ? "" : seen}${followed}</small>
    </li>`;
  }
}

customElements.define("told-alarms", ToldAlarms);
