// @ts-check
// The next things to do, with the time left to do them, and the caution that goes with each.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { CAUTIONS, SITE_RULES } from "../live/cautions.js";
import { countdown } from "../words/format.js";
import { placeAndWhat } from "../words/names.js";
import { taskTime } from "../live/tasktime.js";
import { shared } from "../elements/shared.js";

/** @typedef {import("../wire.js").Prompt} Prompt */

const LONG = 40; // letters of what to do that stand in one piece: chosen
const SHOWN = 3; // chosen: more is no longer next

export class PromptList extends LitElement {
  /** @override */
  static properties = { prompts: { attribute: false }, empty: { attribute: false }, now_s: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        border-left: 2px solid var(--rule);
        padding-left: 1rem;
      }
      li {
        display: flex;
        justify-content: space-between;
        align-items: baseline;
        gap: 1rem;
        font-size: 1.1rem;
        color: var(--ink-2);
        padding: 0.1rem 0;
      }
      .clamped,
      .todo {
        min-width: 0;
      }
      .clamped {
        -webkit-line-clamp: var(--lines-later, none);
      }
      .first {
        color: var(--ink);
        font-size: var(--far-first);
        line-height: 1.15;
        font-weight: 600;
      }
      .first .clamped {
        -webkit-line-clamp: var(--lines-next, none);
      }
      .left {
        white-space: nowrap;
        text-align: end;
      }
      .first .left b {
        font-size: var(--far-left);
        line-height: 1;
        font-weight: 700;
      }
      .left small {
        font-size: 0.9rem;
        font-weight: 400;
        color: var(--ink-2);
      }
      .over b {
        text-decoration: underline;
        text-decoration-thickness: 0.12em;
        text-underline-offset: 0.12em;
      }
      .caution {
        font-size: 0.9rem;
        line-height: 1.3;
        color: var(--ink-2);
        margin: 0.1rem 0 0.3rem;
      }
      .caution.clamped {
        display: var(--spare-caution, -webkit-box);
        -webkit-line-clamp: var(--lines-caution, none);
      }
      .empty {
        font-size: var(--far-first);
        line-height: 1.15;
        color: var(--ink-2);
        padding: 0.4rem 0;
      }
      @media (max-width: 599px) {
        li {
          flex-wrap: wrap;
          gap: 0 1rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {Prompt[]} */
    this.prompts = [];
    /** What to say where nothing has to be done. */
    this.empty = "";
    this.now_s = 0;
  }

  /** @override */
  render() {
    const shown = this.prompts.slice(0, SHOWN);
    const caution = shown.map(({ kind }) => CAUTIONS[kind]).find(Boolean);
    return html`
      <h2 class="unseen">Next</h2>
      ${shown.length ? nothing : html`<p class="empty">${this.empty}</p>`}
      <ol>
        ${repeat(
          shown,
          ({ kind, station, mark }) => `${kind} ${station} ${mark ?? ""}`,
          (prompt, place) => this.#prompt(prompt, place === 0),
        )}
      </ol>
      ${caution ? html`<p class="caution clamped">${caution} ${SITE_RULES}</p>` : nothing}
    `;
  }

  /** Of a long place the end is cut before what is to be done there. @param {string} text */
  #text(text) {
    const [place, what] = placeAndWhat(text);
    if (text.length <= LONG || !what) return html`<span class="clamped">${text}</span>`;
    return html`<span class="todo"><span class="clamped">${place}</span>${what}</span>`;
  }

  /** @param {Prompt} prompt @param {boolean} first */
  #prompt(prompt, first) {
    const { now_s } = this;
    const { left_s, is } = taskTime(prompt, now_s);
    const early = is === "in";
    return html`<li class="${first ? "first" : ""} ${is === "over" ? is : ""}">
      ${this.#text(prompt.text)}
      <span class="left"
        >${early ? html`<small>in </small>` : nothing}<b>${countdown(left_s)}</b>${early ? nothing : html`<small> ${is}</small>`}</span
      >
    </li>`;
  }
}

customElements.define("prompt-list", PromptList);
