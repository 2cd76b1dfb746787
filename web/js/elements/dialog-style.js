// @ts-check
// How a question looks that stands before everything else.

import { css } from "../../vendor/lit.js";

export const dialogStyle = css`
  dialog {
    max-width: min(34rem, 94vw);
    padding: 1.2rem 1.4rem;
    border: 3px solid var(--ink);
    border-radius: 0.5rem;
    background: var(--ground);
    color: var(--ink);
  }
  dialog::backdrop {
    background: rgba(0, 0, 0, 0.6);
  }
  h2 {
    font-size: 1.35rem;
    line-height: 1.2;
  }
  .buttons {
    display: flex;
    flex-wrap: wrap;
    gap: 0.6rem;
  }
  .yes {
    font-weight: 700;
    border-color: var(--ink);
  }
`;
