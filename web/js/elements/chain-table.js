// @ts-check
// The picture as a table: every station and the link behind it.

import { LitElement, html, nothing } from "../../vendor/lit.js";
import { printAt, slackAt, slackSdAt } from "../picture/estimate.js";
import { segmentAt } from "../picture/film.js";
import { clockText, houseClock, slackInWords } from "../words/format.js";
import { freeEndInWords, lacingOf } from "../booth/lacing.js";
import { linkName } from "../words/names.js";
import { goneText } from "./link-caption.js";
import "./table-sheet.js";

export class ChainTable extends LitElement {
  /** @override */
  static properties = { state: { attribute: false }, now_s: { attribute: false } };

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    this.now_s = 0;
  }

  /** @override */
  render() {
    const { state } = this;
    return state ? html`<table-sheet .name=${"The chain as a table"} .table=${() => this.#table(state)}></table-sheet>` : nothing;
  }

  /** @param {import("../live/store.js").RunState} state */
  #table(state) {
    return html`<table>
      <caption>
        As of ${clockText(houseClock(state.info), this.now_s, true)}
      </caption>
      <thead>
        <tr>
          ${["House", "Phase", "Motor", "Lamp", "Douser", "In the gate", "Link", "Slack", "Reserve"].map((name) => html`<th scope="col">${name}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${state.stations.map((_, place) => this.#line(state, place))}
      </tbody>
    </table>`;
  }

  /** @param {import("../live/store.js").RunState} state @param {number} place */
  #line(state, place) {
    const station = state.stations[place];
    const link = state.links[place];
    if (!station) return nothing;
    return html`<tr>
      <th scope="row">${state.info.stations[place]?.house}</th>
      <td>${station.phase}</td>
      <td>${station.running ? "runs" : "stands"}</td>
      <td>${station.lamp}</td>
      <td>${station.douser}</td>
      <td>${segmentAt(state.info.segments, printAt(station, this.now_s))?.title ?? "–"}</td>
      ${link ? this.#link(state, place, link) : html`<td colspan="3">to the take-up</td>`}
    </tr>`;
  }

  /** @param {import("../live/store.js").RunState} state @param {number} place @param {import("../wire.js").Link} link */
  #link(state, place, link) {
    const slack_s = slackAt(link, this.now_s);
    const sd = slackSdAt(link, this.now_s).toFixed(2);
    const said = slack_s === null ? [freeEndInWords(state, place)] : [`${slackInWords(slack_s)} ± ${sd} s`, lacingOf(state, place, this.now_s)];
    return html`<td>${linkName(state.info, link.id)}</td>
      <td>${said.filter(Boolean).join(", ")}</td>
      <td>${link.reserve_s} s ${goneText(link, this.now_s, state.info.horizon_s)}</td>`;
  }
}

customElements.define("chain-table", ChainTable);
