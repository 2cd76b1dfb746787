// @ts-check
// What the parts of the plan desk have in common: cards, rows of buttons, what is wrong.

import { css, html } from "../../vendor/lit.js";

export const planInk = css`
  :host {
    display: block;
  }
  section + section {
    margin-top: 1.4rem;
  }
  h2 {
    font-size: 1.15rem;
    line-height: 1.2;
  }
  h3 {
    font-size: 1rem;
  }
  .said {
    color: var(--ink-2);
    font-size: 0.9rem;
    margin-top: 0.15rem;
  }
  .fields {
    display: grid;
    grid-template-columns: repeat(auto-fill, minmax(min(15rem, 100%), 1fr));
    gap: 0.9rem 1rem;
    margin-top: 0.6rem;
  }
  .entries {
    display: grid;
    gap: 0.5rem;
    margin-top: 0.6rem;
  }
  .entry {
    position: relative;
    border: 1px solid var(--rule);
    border-radius: 0.4rem;
    background: var(--surface);
    padding: 0.4rem;
  }
  .entry.dragged {
    border: 2px solid var(--ink);
    background: var(--lit);
    z-index: 1;
  }
  .entry.before {
    box-shadow: 0 -4px 0 var(--ink);
  }
  .entry.behind {
    box-shadow: 0 4px 0 var(--ink);
  }
  .handle {
    flex: 0 0 auto;
    display: inline-flex;
    align-items: center;
    justify-content: center;
    width: 100%;
    min-width: 2.4rem;
    min-height: 3rem;
    color: var(--ink-2);
    cursor: grab;
    touch-action: none;
    user-select: none;
    -webkit-user-select: none;
  }
  .buttons {
    display: flex;
    flex-wrap: wrap;
    gap: 0.4rem;
  }
  .buttons button {
    padding: 0.3rem 0.6rem;
  }
  button:disabled {
    color: var(--ink-3);
    border-color: var(--rule);
    cursor: default;
  }
  .more {
    margin-top: 0.5rem;
    padding-top: 0.5rem;
    border-top: 1px solid var(--rule);
  }
  .add {
    margin-top: 0.6rem;
    font-weight: 700;
    border-color: var(--ink);
  }
  .fault {
    border-left: 4px solid var(--watch);
    padding-left: 0.6rem;
    margin-top: 0.4rem;
  }
  .faults {
    display: grid;
    gap: 0.3rem;
    margin-top: 0.4rem;
  }
  .faults .fault {
    margin-top: 0;
  }
  .check {
    display: inline-flex;
    align-items: center;
    gap: 0.4rem;
    min-height: 3rem;
    cursor: pointer;
  }
  .check input {
    min-height: 0;
    min-width: 0;
    width: 1.5rem;
    height: 1.5rem;
    margin: 0;
  }
`;

/** What is dragged by. */
export const handleInk = html`<svg width="20" height="20" viewBox="0 0 20 20" aria-hidden="true"><path d="M3 6H17M3 10H17M3 14H17" stroke="currentColor" stroke-width="2" /></svg>`;

/** Goes to a part of an entry that was just drawn; the text of a field is selected, to be written over. @param {Element | undefined} entry @param {string} part a selector */
export async function goTo(entry, part) {
  const found = /** @type {HTMLElement & {updateComplete?: Promise<unknown>} | null | undefined} */ (entry?.querySelector(part));
  await found?.updateComplete;
  found?.focus();
  const inner = found?.shadowRoot?.activeElement;
  if (inner instanceof HTMLInputElement) inner.select();
}
