// @ts-check
// Files that are dropped anywhere on the page, or chosen: for the element that offers it.

/** @typedef {import("../../vendor/lit.js").LitElement & {over: boolean}} Host what shows that something is held over the page */

export class FileDrop {
  /** @param {Host} host its `files` event has what came */
  constructor(host) {
    this.host = host;
    host.addController(this);
  }

  /** The whole page takes what is dropped. */
  hostConnected() {
    window.addEventListener("dragover", this.#drag);
    window.addEventListener("drop", this.#drop);
    window.addEventListener("dragleave", this.#leave);
  }

  hostDisconnected() {
    window.removeEventListener("dragover", this.#drag);
    window.removeEventListener("drop", this.#drop);
    window.removeEventListener("dragleave", this.#leave);
  }

  /** The answer of a file field. */
  chosen = (/** @type {Event} */ { target }) => {
    const input = /** @type {HTMLInputElement} */ (target);
    this.#give([...(input.files ?? [])]);
    input.value = "";
  };

  #drag = (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    this.host.over = true;
  };

  #drop = (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    this.host.over = false;
    this.#give([...(event.dataTransfer?.files ?? [])]);
  };

  #leave = () => void (this.host.over = false);

  /** @param {File[]} files */
  #give(files) {
    if (files.length > 0) this.host.dispatchEvent(new CustomEvent("files", { detail: files, bubbles: true, composed: true }));
  }
}
