// @ts-check
// The picture: the whole chain as one line of film, in rows that all read left to right.

import { LitElement, css, html, nothing, repeat } from "../../vendor/lit.js";
import { levelBySubject } from "../live/alarms.js";
import { inksOf } from "../picture/film.js";
import { LINE } from "../picture/fit.js";
import { Frames, waitBetween } from "../live/frames.js";
import { startOf } from "../live/hold.js";
import { rowsFrom, tickEvery } from "../picture/loops.js";
import { filmThickness, paintRow } from "../picture/paint.js";
import { nearPrompts } from "../live/prompts.js";
import { Measured } from "./measured.js";
import { shared } from "./shared.js";
import "./link-caption.js";
import "./station-card.js";

/**
 * @typedef {import("../picture/paint.js").Row} Row
 * @typedef {import("../picture/paint.js").Palette} Palette
 */

const NARROWEST = 168; // a post and its card, in pixels: chosen
const BAND_PX = 900; // as its style has it
const NARROWEST_REM = 6.9; // the same in a band, in rem: chosen
const WALL_EM = 1.25; // what is drawn at life size: 20 pixels to the rem
const LEAST_PX = 84; // a row as it is drawn is at least so high: the rolls and gates stand in it
const [CLOSE_REM, DENSE_REM, LEAST_REM] = [17, 10.5, 6.2]; // a row of a band that is lower has less in its cards: chosen
const MOST_SHARE = 0.42; // of the screen's height, as the wall's own style has it
const CRAMPED_REM = 5; // in a lower one the film itself is not seen any more: chosen
const NAME_REM = { "": 3, close: 2.3, dense: 1.6, least: 1.6 }; // how large a house's name is at most: 1.6 rem are 32 pixels at 1080 lines
const SMALL_NAME_REM = 2.3; // the same outside of a band on a screen that is not large
const LARGE_PX = 1600; // as its style has it
const LEAST_NAME_REM = 0.85; // chosen
const BESIDE_REM = 5.2; // what a dense row has beside a name: a line of its card, the loops, a line under them
const ROOM_REM = 3.5; // what a long name has in a row that is not dense: two lines of the least size that is read from afar
const CARD_PADDING_REM = 1.1; // of a card, on both sides
const TICK_GAP = 9; // between cross lines on the film, in pixels: chosen

/** @type {Record<keyof Palette, string>} */
const COLOURS = {
  ground: "--ground",
  lit: "--lit",
  ink: "--ink",
  ink2: "--ink-2",
  rule: "--rule",
  edge: "--edge",
  act: "--act",
  watch: "--watch",
  a: "--film-a",
  b: "--film-b",
  c: "--film-c",
  grey: "--film-grey",
  pale: "--film-pale",
  hollow: "--ground",
};

export class ChainPicture extends LitElement {
  /** @override */
  static properties = {
    state: { attribute: false },
    schedule: { attribute: false },
    now_s: { attribute: false },
    timeAt: { attribute: false },
    low: { type: Boolean, reflect: true },
    frozen: { type: Boolean, reflect: true },
    banded: { type: Boolean, reflect: true },
  };

  /** @override */
  static styles = [
    shared,
    css`
      :host {
        display: block;
      }
      .row {
        position: relative;
      }
      .cards,
      .captions {
        display: grid;
      }
      .cards > :first-child,
      .captions > :first-child {
        grid-column-start: 2; /* the first column is the roll's */
      }
      .captions {
        min-height: 1.9rem;
      }
      .caution {
        font-size: 0.85rem;
        line-height: 1.25;
        color: var(--ink-2);
        padding: 0.1rem 0.6rem;
      }
      canvas {
        display: block;
        width: 100%;
        height: clamp(8rem, 22vh, 15rem);
      }
      :host([rows]) canvas {
        height: clamp(6.5rem, 12.5vh, 11rem);
      }
      /* Beside alarms the whole of the wall still has to stand on one screen. */
      :host([low]) canvas {
        height: clamp(6.5rem, 13.5vh, 9rem);
      }
      :host([low][rows]) canvas {
        height: clamp(5.5rem, 10vh, 8rem);
      }
      /* In a band of its own the whole chain stands, however many rows it has. */
      @media (min-width: 900px) {
        :host([banded]) {
          display: grid;
          grid-template-columns: minmax(0, 1fr);
          grid-auto-rows: minmax(0, 1fr);
          height: 100%;
          min-height: 0;
        }
        :host([banded]) .row {
          display: grid;
          grid-template-rows: auto minmax(0, 1fr) auto;
          min-height: 0;
        }
        :host([banded]) .row canvas {
          height: 100%;
          min-height: 0;
        }
        :host([banded]) .captions {
          min-height: 1.2rem;
        }
      }
    `,
  ];

  constructor() {
    super();
    /** @type {import("../live/store.js").RunState | null} */
    this.state = null;
    /** @type {Pick<import("../wire.js").ScheduleDocument, "stations"> | null} */
    this.schedule = null;
    this.now_s = 0;
    /** The run's time at this very moment. */
    this.timeAt = () => this.now_s;
    this.frozen = false;
    /** Whether there is little room. */
    this.low = false;
    /** Whether it has a band of its own, which it fills and never leaves. */
    this.banded = false;
    this.size = new Measured(this);
    this.drawn_px = 0;
    this.heights = new ResizeObserver(() => this.#draw()); // what its cards take changes after it was drawn
    this.frames = new Frames(
      () => this.#draw(),
      (draw_ms) => waitBetween(this.#pixelsPerSecond(), draw_ms, this.still.matches),
    );
    this.still = window.matchMedia("(prefers-reduced-motion: reduce)");
    this.theme = window.matchMedia("(prefers-color-scheme: dark)");
    this.readColours = () => void (this.palette = null);
    /** @type {Palette | null} */
    this.palette = null;
  }

  /** @override */
  connectedCallback() {
    super.connectedCallback();
    this.theme.addEventListener("change", this.readColours);
    this.frames.start();
  }

  /** @override */
  disconnectedCallback() {
    super.disconnectedCallback();
    this.theme.removeEventListener("change", this.readColours);
    this.heights.disconnect();
    this.frames.stop();
  }

  /** @override @param {Map<string, unknown>} changed */
  updated(changed) {
    this.toggleAttribute("rows", this.#rows().length > 1);
    const drawn_px = this.size.width + this.size.height;
    if (changed.has("state") || changed.has("frozen") || changed.has("low") || drawn_px !== this.drawn_px) this.#draw();
    this.drawn_px = drawn_px;
    for (const canvas of this.renderRoot.querySelectorAll("canvas")) this.heights.observe(canvas);
  }

  /** @returns {Row[]} */
  #rows() {
    const posts = this.state?.stations.length ?? 0;
    if (posts === 0 || this.size.width === 0) return [];
    const lead = Math.min(112, Math.max(72, this.size.width / 16 / this.#zoom())) * this.#zoom();
    const counts = rowsFrom(posts, this.size.width - lead, this.#isBand() ? NARROWEST_REM * this.size.em * 16 : NARROWEST);
    const pitch = (this.size.width - lead - 8) / Math.max(...counts);
    let first = 0;
    return counts.map((count, index) => {
      const row = { first, count, last: index === counts.length - 1, lead, pitch, width: this.size.width, height: 0 };
      first += count;
      return row;
    });
  }

  /** A small screen has no bands: what is on it is scrolled. */
  #isBand() {
    return this.banded && window.innerWidth >= BAND_PX;
  }

  /** How much larger all is drawn than in pixels of the page. */
  #zoom() {
    return this.#isBand() ? this.size.em / WALL_EM : 1;
  }

  /** Whether its rows are so low that less should be told beside it: as it was last measured, and where that gives it more. */
  get isCramped() {
    const rows = this.#rows().length;
    const isMeasured = Math.abs(this.size.height - this.clientHeight) < 1 && this.size.height > 0;
    const isLow = this.size.height / rows < CRAMPED_REM * this.size.em * 16;
    return this.#isBand() && rows > 0 && isMeasured && isLow && this.size.height < MOST_SHARE * window.innerHeight - 1;
  }

  /** How much there is room for in each row of a band. @returns {import("./station-card.js").Density} */
  #density() {
    if (!this.#isBand() || this.size.height === 0) return "";
    const row_rem = this.size.height / this.#rows().length / (this.size.em * 16);
    return row_rem < LEAST_REM ? "least" : row_rem < DENSE_REM ? "dense" : row_rem < CLOSE_REM ? "close" : "";
  }

  /** What the name of a house has. @returns {import("./station-card.js").NameRoom} */
  #nameRoom() {
    const rem = this.size.em * 16;
    const rows = this.#rows();
    const density = this.#density();
    const isSmall = !this.#isBand() && (rows.length > 1 || window.innerWidth < LARGE_PX);
    const full = isSmall ? SMALL_NAME_REM : NAME_REM[density];
    const row_rem = this.size.height / rows.length / rem;
    const height =
      density === "least"
        ? full * LINE
        : density === "dense"
          ? Math.max(full * LINE, row_rem - BESIDE_REM)
          : this.#isBand()
            ? Math.max(full * LINE, ROOM_REM)
            : 2 * full * LINE;
    return { width: (rows[0]?.pitch ?? 0) - CARD_PADDING_REM * rem, height: height * rem, full: full * rem, least: LEAST_NAME_REM * rem };
  }

  /** How fast the film goes on the shortest link, where it goes fastest. */
  #pixelsPerSecond() {
    const pitch = this.#rows()[0]?.pitch ?? 0;
    const info = this.state?.info;
    if (!info || this.frozen || !this.state?.stations.some(({ rate }) => rate > 0)) return 0;
    const shortest_s = Math.min(...info.links.map(({ transit_s }) => transit_s), Infinity);
    return (pitch / Math.max(shortest_s, 10)) * info.speed;
  }

  #tick_s() {
    const longest_s = Math.max(...(this.state?.info.links ?? []).map(({ transit_s }) => transit_s), 1);
    return this.still.matches ? 0 : tickEvery((this.#rows()[0]?.pitch ?? 1) / longest_s, TICK_GAP);
  }

  #draw() {
    const { state } = this;
    if (!state) return;
    this.palette ??= this.#readPalette();
    const scene = {
      state,
      t_s: this.timeAt(),
      inks: inksOf(state.info.segments),
      levels: levelBySubject(state.alarms),
      palette: this.palette,
      tick_s: this.#tick_s(),
      type: getComputedStyle(this).fontFamily,
    };
    const canvases = this.renderRoot.querySelectorAll("canvas");
    this.#rows().forEach((row, index) => {
      const canvas = canvases[index];
      if (canvas) drawInto(canvas, row, scene, this.#zoom(), LEAST_NAME_REM * this.size.em * 16);
    });
  }

  /** @returns {Palette} */
  #readPalette() {
    const style = getComputedStyle(this);
    const entries = Object.entries(COLOURS).map(([name, property]) => [name, style.getPropertyValue(property).trim()]);
    return Object.fromEntries(entries);
  }

  /** @override */
  render() {
    if (!this.state) return nothing;
    return html`
      ${repeat(
        this.#rows(),
        (row) => row.first,
        (row) => this.#row(row),
      )}
    `;
  }

  /** @param {Row} row */
  #row(row) {
    // A property, not an attribute: the content policy lets scripts style elements, and refuses style attributes.
    const columns = `grid-template-columns: ${row.lead}px repeat(${row.count}, ${row.pitch}px)`;
    const places = Array.from({ length: row.count }, (_, column) => row.first + column);
    return html`
      <div class="row">
        <ol class="cards" .style=${columns} start=${row.first + 1}>
          ${places.map((place) => html`<li>${this.#card(place)}</li>`)}
        </ol>
        <canvas role="img" aria-label=${this.#said(row)}></canvas>
        <div class="captions" .style=${columns}>
          ${places.map((place) => this.#caption(place, row))}
        </div>
      </div>
    `;
  }

  /** @param {number} place */
  #card(place) {
    const { state } = this;
    const station = state?.stations[place];
    if (!state || !station) return nothing;
    return html`<station-card
      .station=${station}
      .state=${state}
      .planned=${this.schedule?.stations[place] ?? null}
      .start_s=${startOf(state, station.id)}
      .prompt=${nearPrompts(state.prompts, this.now_s).find((prompt) => prompt.station === station.id) ?? null}
      .level=${levelBySubject(state.alarms).get(station.id) ?? null}
      .now_s=${this.now_s}
      .density=${this.#density()}
      .room=${this.#nameRoom()}
    ></station-card>`;
  }

  /** @param {number} place @param {Row} row */
  #caption(place, row) {
    const { state } = this;
    const link = state?.links[place];
    if (!state) return nothing;
    if (!link && this.banded) return nothing; // the wall says it under its chart
    if (!link) {
      return state.stations.some(({ running, phase }) => running && phase !== "clear")
        ? html`<p class="caution">Film is moving: keep hands and clothing clear.</p>`
        : nothing;
    }
    const foldsInto = !row.last && place === row.first + row.count - 1 ? (state.info.stations[place + 1]?.house ?? "") : "";
    return html`<link-caption
      .state=${state}
      .place=${place}
      .foldsInto=${foldsInto}
      ?brief=${this.#density() !== ""}
      .now_s=${this.now_s}
    ></link-caption>`;
  }

  /** @param {Row} row */
  #said(row) {
    const houses = this.state?.info.stations.slice(row.first, row.first + row.count).map(({ house }) => house) ?? [];
    return `Film on its way through houses ${houses.join(", ")}. The chain as a table says the same.`;
  }
}

/** @param {HTMLCanvasElement} canvas @param {Row} row @param {Omit<import("../picture/paint.js").Scene, "film" | "least">} scene @param {number} zoom @param {number} least_px how large names on the film are at least, on the page */
function drawInto(canvas, row, scene, zoom, least_px) {
  const height = canvas.clientHeight;
  const by = Math.min(zoom, height / LEAST_PX); // what stands in a low row is drawn smaller, not cut
  const scale = Math.min(window.devicePixelRatio || 1, 2);
  const [wide, high] = [Math.round(row.width * scale), Math.round(height * scale)];
  if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
  const context = canvas.getContext("2d");
  if (!context || height === 0) return;
  context.setTransform(scale * by, 0, 0, scale * by, 0, 0);
  const [pitch, lead] = [row.pitch / by, row.lead / by];
  paintRow(context, { ...row, pitch, lead, width: row.width / by, height: height / by }, { ...scene, film: filmThickness(height / by), least: least_px / by });
}

customElements.define("chain-picture", ChainPicture);
