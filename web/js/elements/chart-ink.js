// @ts-check
// How charts fill their box; and how every stringline chart draws its ground, its lines, its names and its key.

import { css, html } from "../../vendor/lit.js";

export const chartBox = css`
  svg {
    position: absolute;
    inset: 0;
    width: 100%;
    height: 100%;
    fill: var(--ink-2);
  }
  path {
    fill: none;
  }
`;

const ink = css`
  svg {
    font-size: 0.85rem;
  }
  path {
    stroke-linejoin: round;
  }
  .station {
    stroke: var(--rule);
  }
  .tick {
    stroke: var(--rule);
    stroke-dasharray: 1 5;
  }
  .house {
    font-weight: 600;
    fill: var(--ink);
  }
  .planned {
    stroke: var(--ink-3);
    stroke-width: 1;
  }
  .observed {
    stroke: var(--ink);
    stroke-width: 3;
  }
  .expected {
    stroke: var(--ink-2);
    stroke-width: 2;
    stroke-dasharray: 7 5;
  }
  .band {
    fill: var(--ink);
    fill-opacity: 0.13;
  }
  .pass {
    fill: var(--ink);
  }
  .name {
    fill: var(--ink);
    font-weight: 600;
    paint-order: stroke;
    stroke: var(--ground);
    stroke-width: 4px;
  }
  svg.key {
    position: static;
    width: 34px;
    height: 10px;
    vertical-align: middle;
    margin-right: 0.4rem;
  }
`;

export const chartInk = [chartBox, ink];

/** One line of the kind, for the key under a chart. @param {"planned" | "expected" | "observed"} kind */
export function swatch(kind) {
  return html`<svg class="key" viewBox="0 0 34 10" aria-hidden="true"><path class=${kind} d="M0 5H34" /></svg>`;
}
