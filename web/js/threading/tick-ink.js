// @ts-check
// How a thing looks that is ticked off by hand: the whole row is touched, by a thumb, in the dark.

import { css, html, nothing } from "../../vendor/lit.js";

export const tickInk = css`
  .tick {
    display: flex;
    align-items: flex-start;
    gap: 0.8rem;
    min-height: 3.5rem;
    padding: 0.55rem 0.7rem 0.55rem 1rem;
    border: 2px solid var(--rule);
    border-radius: 0.5rem;
    background: var(--surface);
    cursor: pointer;
    touch-action: manipulation;
    -webkit-tap-highlight-color: transparent;
  }
  .tick:active {
    background: var(--lit);
  }
  .hand {
    flex: 0 0 auto;
    width: 2.4rem;
    display: grid;
    gap: 0.3rem;
  }
  .tick input {
    -webkit-appearance: none;
    appearance: none;
    display: grid;
    place-items: center;
    width: 2.4rem;
    height: 2.4rem;
    min-width: 0;
    min-height: 0;
    margin: 0;
    padding: 0;
    border: 3px solid var(--ink-2);
    border-radius: 0.35rem;
    background: var(--ground);
    cursor: pointer;
  }
  .tick input:checked {
    border-color: var(--ink-3);
    background: var(--ink-3);
  }
  .tick input:checked::before {
    content: "";
    width: 0.65rem;
    height: 1.25rem;
    margin-top: -0.25rem;
    border: solid var(--ground);
    border-width: 0 0.3rem 0.3rem 0;
    transform: rotate(45deg);
  }
  .tick.done {
    background: none;
    color: var(--ink-3);
  }
  .words {
    flex: 1 1 auto;
    min-width: 0;
    overflow-wrap: anywhere;
  }
  .flag {
    display: inline-block;
    border: 2px solid var(--watch);
    border-radius: 0.3rem;
    padding: 0 0.4rem;
    color: var(--ink);
    font-size: 0.9rem;
    font-weight: 700;
  }
`;

/**
 * One row to tick off; `tell` is called with the thing's key.
 * @param {{key: string, done: boolean, changed: boolean, now?: boolean, tell: (key: string) => void}} row `now` says that it is done now @param {unknown} words
 */
export function tickRow({ key, done, changed, now = false, tell }, words) {
  return html`<label class="tick ${now ? "next" : ""} ${done ? "done" : ""}">
    <span class="hand"><input type="checkbox" .checked=${done} @change=${() => tell(key)} />${now ? html`<span class="now" aria-hidden="true">Now</span>` : nothing}</span>
    <span class="words">${words}${changed && !done ? html` <span class="flag">Changed</span>` : nothing}</span>
  </label>`;
}
