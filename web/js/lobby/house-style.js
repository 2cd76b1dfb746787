// @ts-check
// How the lobby's table looks: in one column or several, whole or with what is so above what comes, and on a phone.

import { css } from "../../vendor/lit.js";

export const houseStyle = css`
  :host {
    display: block;
  }
  /* A television does not scroll: the print is as large as lets all of it be seen. */
  table {
    width: 100%;
    margin-top: 0.3rem;
    font-size: var(--print, 1.15rem);
    line-height: 1.15;
  }
  th,
  td {
    padding: 0.28em 1em 0.28em 0;
    vertical-align: baseline;
    white-space: normal;
  }
  th:last-child,
  td:last-child {
    padding-right: 0;
  }
  td.now {
    white-space: nowrap;
  }
  caption {
    padding: 0;
  }
  .hint {
    font-size: 1rem;
  }
  thead th {
    font-size: max(0.9rem, 0.5em);
    padding-block: 0.2em;
  }
  tbody th {
    width: 1%;
    padding-right: 1.6em;
    font-weight: 700;
    white-space: nowrap;
  }
  :host([reports]) tbody th {
    padding-block: 0.05em;
    padding-right: 0.8em;
  }
  .long tbody th {
    width: 36%;
    white-space: normal;
    overflow-wrap: anywhere;
    font-size: max(12px, 0.85em);
    line-height: 1.1;
  }
  tbody button {
    min-width: max(48px, 1.9em);
    min-height: 48px;
    padding: 0 0.3em;
    font-weight: 700;
    line-height: 1.1;
    text-align: start;
  }
  th:not(.long *) button {
    text-align: center;
  }
  /* In several columns each house is a line of its own, or three short ones. */
  .columns,
  .columns caption,
  .columns thead,
  .columns tbody {
    display: block;
  }
  .under td.now {
    white-space: normal;
  }
  .columns thead tr {
    display: flex;
    gap: 1.5rem;
  }
  .columns thead th {
    width: auto;
    border: 0;
  }
  .close .hint {
    display: none;
  }
  .columns.close tbody tr {
    padding: 0;
  }
  .columns tbody {
    columns: var(--columns);
    column-gap: 2em;
  }
  .columns tbody tr {
    display: grid;
    grid-template-columns: minmax(2.6em, auto) minmax(0, 1fr) minmax(0, 1.3fr);
    gap: 0 0.8em;
    align-items: baseline;
    break-inside: avoid;
    border-bottom: 1px solid var(--rule);
    padding: 0.2em 0;
  }
  .columns.long tbody tr {
    grid-template-columns: minmax(0, 1.1fr) minmax(0, 1fr) minmax(0, 1.3fr);
  }
  .columns.under tbody tr {
    grid-template-columns: minmax(2.6em, auto) minmax(0, 1fr);
    align-items: center;
  }
  .columns.under.long tbody tr {
    grid-template-columns: minmax(0, 1fr) minmax(0, 1.2fr);
  }
  .columns tbody th,
  .columns tbody td,
  :host([reports]) .columns tbody th {
    width: auto;
    border: 0;
    padding: 0;
  }
  .under tbody th {
    grid-row: 1 / span 3;
  }
  .under tbody td {
    grid-column: 2;
  }
  td small {
    display: inline-block;
    font-size: max(0.95rem, 0.6em);
    color: var(--ink-2);
  }
  td * + small {
    margin-left: 0.8em;
  }
  td .change {
    border: 2px solid var(--watch);
    border-radius: 0.25rem;
    padding: 0 0.4em;
    color: var(--ink);
    font-weight: 700;
  }
  thead button {
    border: 0;
    padding: 0 0.6rem 0 0;
    background: none;
    color: inherit;
    text-align: start;
    text-decoration: underline;
    text-decoration-color: var(--rule);
    text-underline-offset: 0.25em;
  }
  [aria-sort="ascending"] button {
    color: var(--ink);
    font-weight: 700;
    text-decoration: none;
  }
  td.film {
    font-size: max(1rem, 0.7em);
    color: var(--ink-2);
  }
  .before td,
  .soon td,
  .clear td,
  .clear th {
    color: var(--ink-2);
  }
  .showing .now,
  .soon .now {
    color: var(--ink);
    font-weight: 700;
  }
  .over .next b {
    background: var(--ink);
    color: var(--ground);
    border-radius: 0.15em;
    padding: 0.04em 0.35em 0.08em;
  }
  .stands .now b {
    font-weight: 700;
    border: 0.09em solid var(--act);
    border-radius: 0.2em;
    padding: 0 0.3em;
  }
  .dark .now b,
  .stopped .now b {
    border: 0.09em solid var(--watch);
    border-radius: 0.2em;
    padding: 0 0.3em;
  }
  b {
    font-weight: inherit;
    box-decoration-break: clone;
    -webkit-box-decoration-break: clone;
  }
  .doors {
    white-space: nowrap;
  }
  /* A phone has what is so and what comes below one another. */
  @media (max-width: 599px) {
    table,
    thead,
    tbody,
    caption {
      display: block;
    }
    thead tr {
      display: flex;
      gap: 0.9rem;
      border-bottom: 1px solid var(--rule);
    }
    tbody tr {
      display: grid;
      grid-template-columns: minmax(2.4em, auto) minmax(0, 1fr);
      align-items: center;
      padding: 0.05em 0;
      border-bottom: 1px solid var(--rule);
    }
    tbody th,
    :host([reports]) tbody th {
      grid-row: 1 / span 3;
      padding: 0 0.7em 0 0;
    }
    th,
    td,
    th:last-child,
    td:last-child {
      width: auto;
      padding: 0;
      border: 0;
    }
    table.long tbody th {
      grid-row: auto;
      grid-column: 1 / -1;
      width: auto;
      font-size: 1em;
    }
    table.long tbody tr {
      grid-template-columns: 0 minmax(0, 1fr);
      padding: 0.4em 0;
    }
    td {
      grid-column: 2;
    }
    td.now {
      white-space: normal;
    }
    thead button {
      padding: 0;
    }
    td * + small {
      margin-left: 0;
    }
  }
`;
