// @ts-check
// Where the parts of the booth desk stand: two columns where there is room, and what answers a tap pinned to the bottom.

import { css } from "../../vendor/lit.js";

export const boothLayout = css`
  main {
    display: grid;
    gap: 0.6rem 1rem;
    padding: 0.5rem 0.8rem calc(var(--pinned, 14rem) + 1rem);
    grid-template:
      "head head" auto
      "heat heat" auto
      "do pad" auto
      "log pad" 1fr / minmax(0, 10fr) minmax(0, 11fr);
    align-items: start;
  }
  /* What is old is hatched, and stays in reach. */
  :host([lost]) main {
    background: repeating-linear-gradient(-45deg, transparent 0 22px, var(--surface) 22px 44px);
  }
  :host([lost]) .old {
    filter: grayscale(1);
  }
  .empty {
    grid-column: 1 / -1;
  }
  header {
    grid-area: head;
    display: flex;
    flex-wrap: wrap;
    align-items: flex-start;
    gap: 0.4rem 1rem;
  }
  run-header {
    flex-basis: 100%;
  }
  tablet-state:not([wide]) {
    min-width: 6rem;
  }
  /* Light off the film comes before anything else, wherever the page is. */
  heat-block {
    grid-area: heat;
    position: sticky;
    top: 0;
    z-index: 5;
    max-height: 46vh;
    overflow-y: auto;
  }
  :host([lost]) heat-block {
    position: static;
  }
  .do {
    grid-area: do;
  }
  .pad {
    grid-area: pad;
  }
  /* However many alarms there are, the next thing to do is in sight. */
  .alarms {
    max-height: 46vh;
    overflow-y: auto;
  }
  .log {
    grid-area: log;
  }
  .do,
  .pad,
  .log {
    display: grid;
    gap: 0.7rem;
    min-width: 0;
  }
  h2 {
    font-size: 1.4rem;
    line-height: 1.1;
    margin-bottom: 0.4rem;
  }
  .log h2 {
    font-size: 1rem;
    font-weight: 400;
    color: var(--ink-2);
  }
  .empty {
    font-size: 1.4rem;
    color: var(--ink-2);
  }
  a.empty {
    display: inline-flex;
    align-items: center;
    min-height: 3rem;
  }
  .fault {
    background: var(--act);
    color: var(--act-ink);
    font-weight: 700;
    padding: 0.6rem 0.9rem;
    border-radius: 0.4rem;
  }
  .latest {
    position: fixed;
    inset: auto 0 0;
    padding: 0.4rem 0.8rem;
    background: var(--surface);
    border-top: 3px solid var(--ink-3);
    z-index: 6;
  }
  .full tablet-notices {
    display: none;
  }
  @media (max-width: 599px) {
    run-header {
      --far: 1.1rem;
    }
  }
  /* On a small screen, or on an enlarged one, only what is pinned stays: all else scrolls beneath it. */
  @media (max-width: 299px), (max-height: 599px) {
    heat-block {
      position: static;
      max-height: none;
    }
  }
  @media (max-width: 599px), (max-height: 599px) {
    .alarms {
      max-height: none;
    }
    .latest {
      padding: 0.3rem 0.5rem;
    }
    .latest tablet-notices {
      display: none;
    }
    event-log[latest] {
      display: block;
      max-height: 3.6rem;
      overflow-y: auto;
    }
    .untouched event-log {
      display: none;
    }
  }
  :host([lost]) .latest {
    padding-bottom: 0.8rem;
  }
  @media (max-width: 899px) {
    main {
      grid-template: "head" auto "heat" auto "do" auto "pad" auto "log" auto / minmax(0, 1fr);
    }
  }
`;
