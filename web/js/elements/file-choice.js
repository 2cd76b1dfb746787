// @ts-check
// How a button looks that chooses files: a label with the browser's own field unseen upon it.

import { css } from "../../vendor/lit.js";

export const fileChoice = css`
  .choose {
    display: inline-flex;
    align-items: center;
    position: relative;
    min-height: 3rem;
    padding: 0.4rem 1rem;
    border: 2px solid var(--ink-3);
    border-radius: 0.4rem;
    background: var(--surface);
    cursor: pointer;
  }
  .choose:focus-within {
    outline: 3px solid var(--focus);
    outline-offset: 2px;
  }
  .choose input {
    position: absolute;
    inset: 0;
    opacity: 0;
    width: 100%;
    height: 100%;
    cursor: pointer;
  }
`;
