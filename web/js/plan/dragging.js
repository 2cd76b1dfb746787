// @ts-check
// Dragging an entry of a list by its handle, with a finger or a mouse: where it would go, and that it goes there.

/**
 * @typedef {object} Drag
 * @property {number} from the place of what is dragged
 * @property {number} to where it would be put, counted without it
 */

/** Where something dragged would be put: before the first other entry whose middle is below it. @param {number} y where it is dragged to @param {{top: number, bottom: number}[]} boxes of all entries @param {number} from its own place @returns {number} */
export function placeAt(y, boxes, from) {
  const others = boxes.filter((_, place) => place !== from);
  const below = others.findIndex(({ top, bottom }) => y < (top + bottom) / 2);
  return below < 0 ? others.length : below;
}

/** A lit reactive controller: entries are the elements of class `entry` of its host, handles those of class `handle` in them. */
export class Dragging {
  /** @param {import("../../vendor/lit.js").LitElement} host @param {(from: number, to: number) => void} dropped */
  constructor(host, dropped) {
    this.host = host;
    this.dropped = dropped;
    /** @type {Drag | null} */
    this.drag = null;
    host.addController(this);
  }

  hostConnected() {}

  hostDisconnected() {
    this.drag = null;
  }

  /** The class of an entry, as long as something is dragged. @param {number} place */
  ink(place) {
    const { drag } = this;
    if (!drag) return "";
    if (place === drag.from) return "dragged";
    const without = place > drag.from ? place - 1 : place;
    if (drag.to === drag.from) return "";
    return without === drag.to ? "before" : without === drag.to - 1 && place === this.#last(drag) ? "behind" : "";
  }

  /** @param {Drag} drag */
  #last({ from }) {
    const last = this.#entries().length - 1;
    return last === from ? last - 1 : last;
  }

  /** @param {PointerEvent} event @param {number} from */
  start(event, from) {
    if (event.button !== 0) return;
    event.preventDefault();
    const handle = /** @type {HTMLElement} */ (event.currentTarget);
    handle.setPointerCapture(event.pointerId);
    this.#show({ from, to: from });
    const move = (/** @type {PointerEvent} */ { clientY }) => this.#show({ from, to: placeAt(clientY, this.#boxes(), from) });
    const end = (/** @type {PointerEvent} */ { type }) => {
      handle.removeEventListener("pointermove", move);
      for (const name of ["pointerup", "pointercancel"]) handle.removeEventListener(name, /** @type {EventListener} */ (end));
      const { drag } = this;
      this.#show(null);
      if (type === "pointerup" && drag && drag.to !== drag.from) this.dropped(drag.from, drag.to);
    };
    handle.addEventListener("pointermove", move);
    for (const name of ["pointerup", "pointercancel"]) handle.addEventListener(name, /** @type {EventListener} */ (end));
  }

  #boxes() {
    return this.#entries().map((entry) => entry.getBoundingClientRect());
  }

  #entries() {
    return [...this.host.renderRoot.querySelectorAll(".entry")];
  }

  /** @param {Drag | null} drag */
  #show(drag) {
    this.drag = drag;
    this.host.requestUpdate();
  }
}
