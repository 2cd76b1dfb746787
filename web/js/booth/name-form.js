// @ts-check
// Asks once who taps here.

import { LitElement, css, html } from "../../vendor/lit.js";
import { shared } from "../elements/shared.js";

export class NameForm extends LitElement {
  /** @override */
  static properties = { by: { attribute: false } };

  /** @override */
  static styles = [
    shared,
    css`
      form {
        display: flex;
        flex-wrap: wrap;
        gap: 0.5rem;
        align-items: center;
      }
      label {
        display: flex;
        flex: 1 1 12rem;
        align-items: center;
        gap: 0.5rem;
      }
      input {
        flex: 1 1 6rem;
        min-width: 4rem;
      }
    `,
  ];

  constructor() {
    super();
    this.by = "";
  }

  /** @override */
  render() {
    return html`<form aria-label="Who taps here" @submit=${this.#named}>
      <label>Who taps here? <input name="by" .value=${this.by} maxlength="40" autocomplete="off" /></label>
      <button>Keep the name</button>
      <button type="button" @click=${() => this.#tell("")}>Without a name</button>
    </form>`;
  }

  /** @param {SubmitEvent} event */
  #named(event) {
    event.preventDefault();
    const field = this.renderRoot.querySelector("input");
    this.#tell(field?.value.trim() ?? "");
  }

  /** @param {string} name */
  #tell(name) {
    this.dispatchEvent(new CustomEvent("named", { detail: name }));
  }
}

customElements.define("name-form", NameForm);
