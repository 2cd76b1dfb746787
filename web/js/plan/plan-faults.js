// @ts-check
// What is wrong with an entry, under its fields: each fault with the name of its field, and what was likely meant.

import { html, nothing } from "../../vendor/lit.js";
import { setting, textOf } from "./view.js";

/** @param {import("./view.js").PlanView} plan @param {string} entry its path @param {(edits: NonNullable<import("../wire.js").CheckRequest["edits"]>[number][]) => void} tell */
export function faultsOf(plan, entry, tell) {
  const faults = plan.faultsWithin(entry);
  if (faults.length === 0) return nothing;
  return html`<ul class="faults" aria-label="What is wrong here">
    ${faults.map(({ path, about, text, meant }) => {
      const name = about.split(": ").pop() ?? "";
      return html`<li class="fault">
        ${path === entry ? nothing : html`<strong>${name.charAt(0).toUpperCase()}${name.slice(1)}:</strong>`} ${text}
        ${meant === null || plan.locked ? nothing : html`<button type="button" @click=${() => tell([setting(path, meant)])}>Write ${textOf(meant)}</button>`}
      </li>`;
    })}
  </ul>`;
}
