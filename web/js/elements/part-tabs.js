// @ts-check
// How the links to the parts of one desk look.

import { css } from "../../vendor/lit.js";

export const partTabs = css`
  .parts {
    display: flex;
    flex-wrap: wrap;
    border-bottom: 1px solid var(--rule);
  }
  .parts a {
    display: inline-flex;
    align-items: center;
    min-height: 3rem;
    padding: 0 0.9rem;
    text-decoration: none;
    border-bottom: 3px solid transparent;
    color: var(--ink-2);
  }
  .parts a:hover {
    color: var(--ink);
    background: var(--surface);
  }
  .parts a[aria-current] {
    color: var(--ink);
    font-weight: 700;
    border-bottom-color: var(--ink);
  }
`;
