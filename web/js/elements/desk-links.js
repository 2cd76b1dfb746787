// @ts-check
// The way to the other desks, and from where things are changed to the paired devices.

import { LitElement, css, html, nothing } from "../../vendor/lit.js";
import { deskAddress } from "../live/runs.js";
import { shared } from "./shared.js";

export class DeskLinks extends LitElement {
  /** @override */
  static properties = { run: { attribute: false }, here: { type: String } };

  /** @override */
  static styles = [
    shared,
    css`
      nav {
        display: flex;
        flex-wrap: wrap;
      }
      a,
      span {
        display: inline-flex;
        align-items: center;
        min-height: 3rem;
        padding: 0 0.5rem;
      }
      span {
        color: var(--ink-3);
      }
    `,
  ];

  constructor() {
    super();
    this.run = "";
    this.here = "";
  }

  /** @override */
  render() {
    const desks = [
      { name: "wall", address: deskAddress("wall", this.run) },
      { name: "booth", address: deskAddress("booth", this.run) },
      { name: "lobby", address: "/lobby" },
      { name: "library", address: "/library" },
      { name: "plan", address: "/plan" },
    ];
    return html`<nav aria-label="Desks">
      ${desks.map(({ name, address }) => (name === this.here ? html`<span aria-current="page">${name}</span>` : html`<a href=${address}>${name}</a>`))}
      ${this.here === "wall" ? nothing : html`<a href="/pairings">devices</a>`}
    </nav>`;
  }
}

customElements.define("desk-links", DeskLinks);
