// @ts-check
// How large a part of an element is: a lit reactive controller, by which the element is drawn again when that changes.

export class Measured {
  /**
   * @param {import("../../vendor/lit.js").LitElement} host
   * @param {string} [part] what to measure in the host's own tree; the host itself where it is left out
   */
  constructor(host, part) {
    this.width = 0;
    this.height = 0;
    /** How large its text is beside a browser's own, which is 16 pixels. */
    this.em = 1;
    this.host = host;
    this.part = part;
    /** @type {Element | null} */
    this.measured = null;
    this.sizes = new ResizeObserver(([entry]) => {
      ({ width: this.width, height: this.height } = entry?.contentRect ?? { width: 0, height: 0 });
      this.em = parseFloat(getComputedStyle(host).fontSize) / 16;
      host.requestUpdate();
    });
    host.addController(this);
  }

  hostConnected() {
    this.#measure();
  }

  hostUpdated() {
    this.#measure();
  }

  hostDisconnected() {
    this.sizes.disconnect();
    this.measured = null;
  }

  #measure() {
    const found = this.part ? (this.host.renderRoot?.querySelector(this.part) ?? null) : this.host;
    if (found === this.measured) return;
    this.sizes.disconnect();
    this.measured = found;
    if (found) this.sizes.observe(found);
  }
}
