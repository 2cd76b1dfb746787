// @ts-check
// What every desk of one live run is given: the run as it is known, the moment that is shown, and why there is nothing.

import { LitElement } from "../../vendor/lit.js";

export class RunDesk extends LitElement {
  /** @override @type {Record<string, {attribute?: boolean, type?: unknown, reflect?: boolean, state?: boolean}>} */
  static properties = {
    state: { attribute: false },
    now_s: { attribute: false },
    timeAt: { attribute: false },
    lost: { type: Boolean, reflect: true },
    age_s: { attribute: false },
    refusal: { attribute: false },
    trouble: { attribute: false },
  };

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    this.now_s = 0;
    this.timeAt = () => this.now_s;
    this.lost = false;
    this.age_s = 0;
    /** @type {import("../live/connection.js").Refusal | null} */
    this.refusal = null;
    this.trouble = "";
  }
}
