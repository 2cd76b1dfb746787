// @ts-check
// What is read out: one region that interrupts and one that waits. Both are there from the start, so that what comes into them is heard.

import { LitElement, css, html, repeat } from "../../vendor/lit.js";
import { shared } from "./shared.js";

export class SaidAloud extends LitElement {
  /** @override */
  static properties = { alerts: { attribute: false }, statuses: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
        position: absolute;
      }
    `,
  ];

  constructor() {
    super();
    /** What interrupts, the gravest first. @type {string[]} */
    this.alerts = [];
    /** @type {string[]} */
    this.statuses = [];
  }

  /** What is new is read, not all of it again. @override */
  render() {
    const told = (/** @type {string[]} */ texts) =>
      repeat(
        [...new Set(texts.filter(Boolean))],
        (text) => text,
        (text) => html`<p>${text}</p>`,
      );
    return html`<div class="unseen" role="alert" aria-atomic="false">${told(this.alerts)}</div>
      <div class="unseen" role="status" aria-atomic="false">${told(this.statuses)}</div>`;
  }
}

customElements.define("said-aloud", SaidAloud);
