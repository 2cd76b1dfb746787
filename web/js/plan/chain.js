// @ts-check
// The chain changed: houses put in, moved and taken out, and what becomes of the paths between them.

import { setting } from "./view.js";

/**
 * @typedef {import("../plan-messages.js").Edit} Edit
 * @typedef {import("./view.js").PlanView} PlanView
 * @typedef {{key: "path_ft" | "path_m", length: import("../plan-messages.js").PlanValue, rollers: import("../plan-messages.js").PlanValue | null}} KnownPath
 */

const TAPS = { motor: "tap", lamp: "tap", douser: "tap", cue: "tap" };

/** The paths that were ever given between two houses, whichever way: they stay where they are when the chain is another. */
export class KnownPaths {
  constructor() {
    /** @type {Map<string, KnownPath>} */
    this.byPair = new Map();
  }

  /** Learns those of a plan. @param {PlanView} plan */
  learn(plan) {
    plan.houses().forEach((house, place, houses) => {
      const path = pathAt(plan, place);
      if (path && place > 0 && house) this.byPair.set(pairOf(houses[place - 1] ?? "", house), path);
    });
  }

  /** @param {string} one @param {string} other */
  between(one, other) {
    return this.byPair.get(pairOf(one, other)) ?? null;
  }
}

/** @param {string} one @param {string} other */
function pairOf(one, other) {
  return JSON.stringify([one, other].sort());
}

/** @param {PlanView} plan @param {number} place @returns {KnownPath | null} */
function pathAt(plan, place) {
  for (const key of /** @type {const} */ (["path_ft", "path_m"])) {
    const length = plan.value(`stations[${place}].${key}`);
    if (length !== undefined) return { key, length, rollers: plan.value(`stations[${place}].rollers`) ?? null };
  }
  return null;
}

/** A new house at the end of the chain, told of as the last one is. @param {PlanView} plan @returns {Edit[]} */
export function addHouse(plan) {
  const last = plan.count("stations") - 1;
  const house = nextHouse(plan.houses());
  const booth = plan.value(`stations[${last}].booth`);
  const values = { id: freeId(plan, autoId(house)), house, ...(booth === undefined ? {} : { booth }), inputs: inputsOf(plan, last) };
  return [{ do: "add", list: "stations", at: last + 1, values }];
}

/** The next number that no house has. @param {string[]} houses */
function nextHouse(houses) {
  const highest = Math.max(0, ...houses.map(Number).filter(Number.isInteger));
  return String(highest + 1);
}

/** Who tells of a new house: whoever tells of the last one; people, where it is the first. @param {PlanView} plan @param {number} place @returns {Record<string, string>} */
function inputsOf(plan, place) {
  if (place < 0) return TAPS;
  const given = Object.keys(TAPS).flatMap((key) => {
    const value = plan.value(`stations[${place}].inputs.${key}`);
    return typeof value === "string" ? [[key, value]] : [];
  });
  return Object.fromEntries(given);
}

/** @param {PlanView} plan @param {number} at @param {number} to its place once it is out @param {KnownPaths} known @returns {Edit[]} */
export function moveHouse(plan, at, to, known) {
  const order = plan.houses().map((_, place) => place);
  order.splice(to, 0, ...order.splice(at, 1));
  return [{ do: "move", list: "stations", at, to }, ...pathEdits(plan, order, known)];
}

/** @param {PlanView} plan @param {number} at @param {KnownPaths} known @returns {Edit[]} */
export function takeOutHouse(plan, at, known) {
  const order = plan.houses().map((_, place) => place);
  order.splice(at, 1);
  return [{ do: "remove", list: "stations", at }, ...pathEdits(plan, order, known), ...withoutHouse(plan, at)];
}

/** The paths of those that come after another house than before: what is known of the new pair, else none. @param {PlanView} plan @param {number[]} order old places in the new order @param {KnownPaths} known @returns {Edit[]} */
function pathEdits(plan, order, known) {
  return order.flatMap((old, place) => {
    const before = order[place - 1];
    if (before === undefined ? old === 0 : before === old - 1 && old > 0) return [];
    const path = before === undefined ? null : known.between(plan.house(before), plan.house(old));
    const at = `stations[${place}]`;
    if (path) return [setting(`${at}.${path.key}`, path.length), setting(`${at}.rollers`, path.rollers)];
    const had = ["path_ft", "path_m", "rollers"].filter((key) => plan.value(`stations[${old}].${key}`) !== undefined);
    return had.map((key) => setting(`${at}.${key}`, null));
  });
}

/** What named a house that goes, and says something without it. @param {PlanView} plan @param {number} at @returns {Edit[]} */
function withoutHouse(plan, at) {
  const [house, id] = [plan.house(at), plan.text(`stations[${at}].id`)];
  const last = plan.houses().filter((each) => each === house).length === 1;
  return [...(last ? replacedIn(plan, "marks", "houses", house, null) : []), ...replacedIn(plan, "stop_groups", "stations", id, null)];
}

/** A house that was called otherwise until now, wherever the plan names it. @param {PlanView} plan as it is, with the new name @param {number} at @param {string} before @returns {Edit[]} */
export function renamedHouse(plan, at, before) {
  const house = plan.house(at);
  if (house === before || !house) return [];
  const id = plan.text(`stations[${at}].id`);
  const renamed = plan.houses().includes(before) ? [] : replacedIn(plan, "marks", "houses", before, house);
  // An id that came from the house's name follows it; one that a person chose stays.
  if (id !== autoId(before)) return renamed;
  const next = freeId(plan, autoId(house));
  return [setting(`stations[${at}].id`, next), ...replacedIn(plan, "stop_groups", "stations", id, next), ...renamed];
}

/** @param {PlanView} plan @param {"marks" | "stop_groups"} list @param {string} key @param {string} old @param {string | null} next null leaves it out, where others are left @returns {Edit[]} */
function replacedIn(plan, list, key, old, next) {
  return Array.from({ length: plan.count(list) }, (_, place) => place).flatMap((place) => {
    const path = `${list}[${place}].${key}`;
    const named = plan.value(path);
    if (!Array.isArray(named) || !named.includes(old)) return [];
    const left = named.flatMap((each) => (each !== old ? [each] : next === null ? [] : [next]));
    return left.length > 0 ? [setting(path, left)] : [];
  });
}

/** @param {string} house */
export function autoId(house) {
  return `h${house.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "")}`;
}

/** @param {PlanView} plan @param {string} wanted */
function freeId(plan, wanted) {
  const taken = new Set(plan.houses().map((_, place) => plan.text(`stations[${place}].id`)));
  for (let number = 1; ; number++) {
    const id = number === 1 ? wanted : `${wanted}-${number}`;
    if (!taken.has(id)) return id;
  }
}

/** A path in the other unit: the same length, to the hundredth of a foot or the millimetre. @param {PlanView} plan @param {number} place @param {"path_ft" | "path_m"} key @returns {Edit[]} */
export function pathIn(plan, place, key) {
  const other = key === "path_ft" ? "path_m" : "path_ft";
  const length = plan.value(`stations[${place}].${other}`);
  if (length === undefined) return [];
  if (typeof length !== "number") return [setting(`stations[${place}].${key}`, length)];
  const next = key === "path_m" ? Math.round(length * 304.8) / 1000 : Math.round(length / 0.003048) / 100;
  return [setting(`stations[${place}].${key}`, next)];
}
