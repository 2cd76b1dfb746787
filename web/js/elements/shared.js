// @ts-check
// What every element's own style sheet starts from.

import { css } from "../../vendor/lit.js";

export const shared = css`
  *,
  *::before,
  *::after {
    box-sizing: border-box;
  }
  :host([hidden]) {
    display: none;
  }
  h1,
  h2,
  h3,
  p,
  ul,
  ol,
  dl,
  dd {
    margin: 0;
    padding: 0;
  }
  ul,
  ol {
    list-style: none;
  }
  .unseen {
    position: absolute;
    width: 1px;
    height: 1px;
    overflow: hidden;
    clip-path: inset(50%);
    white-space: nowrap;
  }
  /* As many lines as its desk has room for; what is more ends in dots. */
  .clamped {
    display: -webkit-box;
    -webkit-box-orient: vertical;
    overflow: hidden;
  }
  a {
    color: inherit;
    text-underline-offset: 0.2em;
  }
  :focus-visible {
    outline: 3px solid var(--focus);
    outline-offset: 2px;
  }
  button,
  input,
  select,
  textarea {
    font: inherit;
    color: inherit;
    min-height: 3rem;
    min-width: 3rem;
  }
  button {
    padding: 0.4rem 0.9rem;
    border: 2px solid var(--ink-3);
    border-radius: 0.4rem;
    background: var(--surface);
    cursor: pointer;
    touch-action: manipulation;
  }
  button:active {
    background: var(--lit);
  }
  input,
  select,
  textarea {
    padding: 0.4rem 0.6rem;
    border: 2px solid var(--ink-3);
    border-radius: 0.4rem;
    background: var(--ground);
  }
  details > summary {
    display: inline-block;
    padding: 0.8rem 0.2rem;
    min-height: 3rem;
    color: var(--ink-2);
    font-size: 0.9rem;
    cursor: pointer;
    text-decoration: underline;
    text-decoration-color: var(--rule);
    text-underline-offset: 0.25em;
  }
  .sheet {
    overflow-x: auto;
  }
  table {
    border-collapse: collapse;
    font-size: 0.9rem;
  }
  caption {
    text-align: start;
    color: var(--ink-2);
    padding: 0.3rem 0;
  }
  th,
  td {
    padding: 0.25rem 0.9rem 0.25rem 0;
    text-align: start;
    border-bottom: 1px solid var(--rule);
    white-space: nowrap;
    font-weight: 400;
  }
  thead th {
    color: var(--ink-2);
  }
`;

/** One field with its button, in one line where there is room. */
export const fieldForm = css`
  form {
    display: flex;
    flex-wrap: wrap;
    align-items: end;
    gap: 0.5rem;
    margin-top: 0.5rem;
  }
  form label {
    flex: 1 1 8rem;
    min-width: 0;
  }
  input {
    width: 100%;
  }
`;
