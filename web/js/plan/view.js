// @ts-check
// A plan as its fields see it: what each key has, what holds where it has nothing, and what is wrong with it.

/**
 * @typedef {import("../wire.js").CheckedPlan} CheckedPlan
 * @typedef {import("../wire.js").PlanFault} PlanFault
 * @typedef {import("../wire.js").PlanUsual} PlanUsual
 * @typedef {NonNullable<import("../wire.js").PlanFault["meant"]>} PlanValue
 * @typedef {import("../wire.js").Add["list"]} ListName
 */

export class PlanView {
  /**
   * @param {CheckedPlan} checked
   * @param {Record<string, PlanValue>} values those of `checked`, or the last that could be read
   * @param {PlanUsual} usual
   * @param {number} revision another one whenever the text came from elsewhere than the fields
   * @param {boolean} locked whether nothing may be changed
   */
  constructor(checked, values, usual, revision, locked) {
    this.checked = checked;
    this.values = values;
    this.usual = usual;
    this.revision = revision;
    this.locked = locked || checked.values === null;
    /** @type {Map<string, PlanFault>} */
    this.faults = new Map(checked.faults.map((fault) => [fault.path, fault]));
  }

  /** @param {string} path @returns {PlanValue | undefined} */
  value(path) {
    return this.values[path];
  }

  /** @param {string} path */
  text(path) {
    return textOf(this.value(path));
  }

  /** @param {string} path @returns {PlanFault | undefined} */
  fault(path) {
    return this.faults.get(path);
  }

  /** The faults of an entry: its own and those of its keys. @param {string} path */
  faultsWithin(path) {
    return this.checked.faults.filter((fault) => fault.path === path || fault.path.startsWith(`${path}.`));
  }

  /** @param {ListName} list */
  count(list) {
    return this.checked.values === null ? countOf(this.values, list) : (this.checked.counts[list] ?? 0);
  }

  /** What holds for a key where the plan says nothing of it; undefined where nothing does. @param {string} path @returns {PlanValue | undefined} */
  usualAt(path) {
    const { values, spreads_s, tolerances_ppm } = this.usual;
    const own = path.replace(/^stations\[\d+\]\./, "");
    if (own !== path) return this.#usualOfStation(own);
    if (path === "timing.start_spread_s") return spreads_s[String(this.value("timing.start"))] ?? values[path];
    if (path === "timing.rate_tolerance_ppm") return tolerances_ppm[String(this.value("timing.motors"))] ?? values[path];
    return values[path];
  }

  /** A station's reserve and lamp are the plan's, unless it has its own. @param {string} key */
  #usualOfStation(key) {
    const above = key === "reserve_s" ? "timing.reserve_s" : `lamp.${key}`;
    return this.value(above) ?? this.usual.values[above] ?? this.usual.values[key];
  }

  /** @param {number} place from 0 */
  house(place) {
    return this.text(`stations[${place}].house`);
  }

  /** `House 4`; by its place where it has no name yet. @param {number} place */
  houseName(place) {
    return this.house(place) ? `House ${this.house(place)}` : `House number ${place + 1} of the chain`;
  }

  houses() {
    return Array.from({ length: this.count("stations") }, (_, place) => this.house(place));
  }

  /** The pieces of the print by their ids, for whatever counts from one of them. @returns {[string, string][]} */
  pieces() {
    return Array.from({ length: this.count("print") }, (_, place) => {
      const id = this.text(`print[${place}].id`);
      return /** @type {[string, string]} */ ([id, this.text(`print[${place}].title`) || id]);
    });
  }
}

/** @param {Record<string, PlanValue>} values @param {string} list */
function countOf(values, list) {
  const places = Object.keys(values).map((path) => Number(new RegExp(`^${list}\\[(\\d+)\\]`).exec(path)?.[1] ?? -1));
  return Math.max(-1, ...places) + 1;
}

/** A value as its field shows it. @param {PlanValue | undefined} value */
export function textOf(value) {
  return value === undefined ? "" : Array.isArray(value) ? value.join(", ") : String(value);
}

/** What somebody typed, as the plan gets it: a number where the key wants one and it is one; null takes the key out. @param {string} text @param {"text" | "number"} kind @returns {string | number | null} */
export function written(text, kind) {
  if (text.trim() === "") return null;
  if (kind === "number" && /^\s*\d{1,15}(\.\d{1,9})?\s*$/.test(text)) return Number(text);
  return kind === "number" ? text.trim() : text;
}

/** @param {string} path @param {PlanValue | null} value @returns {import("../wire.js").SetKey} */
export function setting(path, value) {
  return { do: "set", path, value };
}
