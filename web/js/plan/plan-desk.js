// @ts-check
// The plan desk: does this chain work, and what must be threaded, by when? On one side the plan, on the other the answer.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { savedInWords } from "./words.js";
import "./plan-answer.js";
import "./plan-chain.js";
import "./plan-conflict.js";
import "./plan-drop.js";
import "./plan-print.js";
import "./plan-rules.js";
import "./plan-sheets.js";
import "./plan-show.js";
import "./plan-text.js";
import "./plan-versions.js";
import { partTabs } from "../elements/part-tabs.js";
import { shared } from "../elements/shared.js";
import "../elements/sure-question.js";

/** @type {[import("./address.js").PlanPart, string][]} */
const PARTS = [
  ["show", "Show"],
  ["chain", "Chain"],
  ["print", "Print"],
  ["rules", "Rules"],
  ["sheets", "Sheets"],
  ["text", "Text"],
  ["versions", "Versions"],
];

/** Where the faults of each part are. @type {Partial<Record<string, RegExp>>} */
const FAULTS_OF = {
  show: /^(title|site|timezone|timing\.motors_at)$/,
  chain: /^(stations|stop_groups)/,
  print: /^(print|marks)/,
  rules: /^(timing\.(?!motors_at)|lamp|threading|film)/,
};

export class PlanDesk extends LitElement {
  /** @override */
  static properties = {
    plan: { attribute: false },
    drawn: { attribute: false },
    known: { attribute: false },
    sites: { attribute: false },
    site: { attribute: false },
    crew: { attribute: false },
    place: { attribute: false },
    saved: { attribute: false },
    changed: { attribute: false },
    inUse: { attribute: false },
    saving: { attribute: false },
    canUndo: { attribute: false },
    canRedo: { attribute: false },
    notice: { attribute: false },
    trouble: { attribute: false },
    conflict: { attribute: false },
    sheets: { attribute: false },
    versions: { attribute: false },
    changes: { attribute: false },
    compared: { attribute: false },
    question: { attribute: false },
    by: { attribute: false },
    looks: { attribute: false },
  };

  /** @override */
  static styles = [
    shared,
    partTabs,
    css`
      :host {
        display: block;
        min-height: 100vh;
      }
      header {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.3rem 0.8rem;
        padding: 0.4rem 1rem;
        border-bottom: 1px solid var(--rule);
        background: var(--ground);
      }
      h1 {
        font-size: 1.3rem;
        line-height: 1.15;
        letter-spacing: -0.01em;
        overflow-wrap: anywhere;
      }
      .state {
        color: var(--ink-2);
        flex: 1 1 10rem;
      }
      .back {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
      }
      .buttons {
        display: flex;
        flex-wrap: wrap;
        gap: 0.4rem;
      }
      .save {
        font-weight: 700;
        border-color: var(--ink);
      }
      button:disabled {
        color: var(--ink-3);
        border-color: var(--rule);
        cursor: default;
      }
      main {
        padding: 0 1rem 4rem;
      }
      .parts {
        margin-bottom: 0.8rem;
      }
      .wrong {
        border: 2px solid var(--watch);
        border-radius: 0.8rem;
        padding: 0 0.4rem;
        margin-left: 0.35rem;
        font-size: 0.8rem;
        color: var(--ink);
      }
      plan-answer {
        border-top: 1px solid var(--rule);
        margin-top: 1.4rem;
        padding-top: 0.8rem;
      }
      .notice,
      .trouble {
        border: 2px solid var(--watch);
        border-radius: 0.4rem;
        padding: 0.6rem 1rem;
        margin: 0.6rem 0;
      }
      .trouble {
        align-self: start;
      }
      .said,
      .file {
        color: var(--ink-2);
        padding: 0.6rem 0;
      }
      .file {
        display: flex;
        flex-wrap: wrap;
        align-items: center;
        gap: 0.4rem 1rem;
        margin-top: 1.4rem;
        border-top: 1px solid var(--rule);
      }
      @media (min-width: 1000px) {
        :host {
          height: 100vh;
          display: grid;
          grid-template-rows: auto minmax(0, 1fr);
        }
        main {
          display: grid;
          grid-template-columns: minmax(0, 1.3fr) minmax(0, 1fr);
          gap: 0 1.4rem;
          padding: 0 0 0 1rem;
          min-height: 0;
        }
        .form,
        .answer {
          overflow: auto;
          position: relative; /* what is for screen readers alone must not make the page longer */
          padding-bottom: 2rem;
        }
        .form {
          padding-right: 0.4rem;
        }
        .answer {
          border-left: 1px solid var(--rule);
          padding: 0 1rem 2rem;
        }
        .parts {
          position: sticky;
          top: 0;
          z-index: 3;
          background: var(--ground);
        }
        plan-answer {
          border-top: 0;
          margin-top: 0;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("./view.js").PlanView | null} */
    this.plan = null;
    /** @type {import("../wire.js").CheckedPlan | null} */
    this.drawn = null;
    /** @type {import("./chain.js").KnownPaths | null} */
    this.known = null;
    /** The site files that are kept, null until they are known. @type {import("../wire.js").SiteLine[] | null} */
    this.sites = null;
    /** What the plan takes from its site. @type {import("../wire.js").SiteInfo | null} */
    this.site = null;
    /** How many people there are, null where that is not asked. @type {number | null} */
    this.crew = null;
    /** @type {import("./address.js").PlanPart} */
    this.place = "chain";
    /** @type {import("./words.js").Saved} */
    this.saved = null;
    this.changed = false;
    this.inUse = false;
    /** Whether the plan is on its way to be kept. */
    this.saving = false;
    this.canUndo = false;
    this.canRedo = false;
    /** What became of the last thing that was done. */
    this.notice = "";
    /** Why the plan cannot be shown. */
    this.trouble = "";
    /** @type {import("./plan-conflict.js").Conflict | null} */
    this.conflict = null;
    /** @type {import("./plan-sheets.js").Sheets} */
    this.sheets = null;
    /** @type {import("../wire.js").PlanVersion[] | null} */
    this.versions = null;
    /** @type {string[]} */
    this.changes = [];
    /** @type {{number: number, changes: string[]} | null} */
    this.compared = null;
    /** Asked before the first save: who does it. @type {import("../elements/sure-question.js").Question | null} */
    this.question = null;
    this.by = "";
    /** Whether this device only looks. */
    this.looks = false;
  }

  /** @override */
  render() {
    const { plan } = this;
    return html`
      ${this.#header(plan)}
      <main>
        ${plan ? this.#body(plan) : this.trouble ? html`<p class="trouble" role="alert">${this.trouble}</p>` : html`<p class="said" role="status">Waiting for the server</p>`}
      </main>
      <sure-question .question=${this.question} .by=${this.by} @answer=${(/** @type {CustomEvent} */ { detail }) => this.#tell("who", detail)}></sure-question>
    `;
  }

  /** @param {import("./view.js").PlanView | null} plan */
  #header(plan) {
    return html`<header>
      <a class="back" href="/plan">Plans</a>
      <h1>${plan?.text("title") || "Plan"}</h1>
      <p class="state" role="status">${plan ? savedInWords(this.saved, this.changed, plan.text("timezone")) : ""}</p>
      <div class="buttons">${plan ? this.#buttons() : nothing}</div>
    </header>`;
  }

  #buttons() {
    const download = html`<button type="button" @click=${() => this.#tell("download")}>Download</button>`;
    if (this.looks) return download;
    return html`
      <button type="button" ?disabled=${!this.canUndo} @click=${() => this.#tell("undo")}>Undo</button>
      <button type="button" ?disabled=${!this.canRedo} @click=${() => this.#tell("redo")}>Redo</button>
      ${download}
      <button type="button" class="save" ?disabled=${this.saving || (!this.changed && this.saved !== null)} @click=${() => this.#tell("save")}>${this.saving ? "Saving" : "Save"}</button>
    `;
  }

  /** @param {import("./view.js").PlanView} plan */
  #body(plan) {
    return html`
      <div class="form" tabindex="-1">
        <nav class="parts" aria-label="Parts of the plan">
          ${PARTS.map(([part, name]) => html`<a href="#${part}" aria-current=${part === this.place ? "page" : nothing}>${name}${this.#wrong(plan, part)}</a>`)}
        </nav>
        ${this.looks ? html`<p class="said">This device only looks: a plan is changed on one that runs the show.</p>` : nothing}
        ${this.inUse ? html`<p class="notice">A live run goes by this plan. It stays as it is: what you save becomes a copy beside it.</p>` : nothing}
        ${this.conflict ? html`<plan-conflict .conflict=${this.conflict} .timezone=${plan.text("timezone")}></plan-conflict>` : nothing}
        ${this.notice ? html`<p class="notice" role="alert">${this.notice}</p>` : nothing}
        ${plan.checked.values === null && this.place !== "text" ? html`<p class="notice">The text cannot be read: mend it under <a href="#text">Text</a>. The fields show what was last read.</p>` : nothing}
        ${this.#part(plan)}
        ${this.looks ? nothing : html`<p class="file">A plan that is dropped on this page opens as a new one, a site file is kept. <plan-drop label="Open a file"></plan-drop></p>`}
      </div>
      <div class="answer" tabindex="0" role="region" aria-label="Does this chain work?"><plan-answer .checked=${plan.checked} .drawn=${this.drawn}></plan-answer></div>
    `;
  }

  /** How many faults a part has. @param {import("./view.js").PlanView} plan @param {string} part */
  #wrong(plan, part) {
    const { values, faults } = plan.checked;
    const of = FAULTS_OF[part];
    const count = values === null ? (part === "text" ? faults.length : 0) : of ? faults.filter(({ path }) => of.test(path)).length : 0;
    return count ? html`<span class="wrong">${count}<span class="unseen"> to fill in or mend</span></span>` : nothing;
  }

  /** @param {import("./view.js").PlanView} plan */
  #part(plan) {
    switch (this.place) {
      case "show":
        return html`<plan-show .plan=${plan} .sites=${this.sites} .crew=${this.crew}></plan-show>`;
      case "print":
        return html`<plan-print .plan=${plan}></plan-print>`;
      case "rules":
        return html`<plan-rules .plan=${plan}></plan-rules>`;
      case "sheets":
        return html`<plan-sheets .sheets=${this.sheets} .crew=${this.crew} .saved=${this.saved !== null} .changed=${this.changed} .timezone=${plan.text("timezone")}></plan-sheets>`;
      case "text":
        return html`<plan-text .plan=${plan}></plan-text>`;
      case "versions":
        return html`<plan-versions .plan=${plan} .versions=${this.versions} .changes=${this.changes} .compared=${this.compared} .timezone=${plan.text("timezone")}></plan-versions>`;
      default:
        return html`<plan-chain .plan=${plan} .known=${this.known} .site=${this.site}></plan-chain>`;
    }
  }

  /** @param {string} name @param {unknown} [detail] */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}

customElements.define("plan-desk", PlanDesk);
