// @ts-check
// The chain changed: houses put in, moved and taken out, and what becomes of the paths between them.

import { setting } from "./view.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {import("../wire.js").SiteHouse} SiteHouse
 * @typedef {import("./view.js").PlanView} PlanView
 * @typedef {{key: "path_ft" | "path_m", length: NonNullable<import("../wire.js").PlanFault["meant"]>, rollers: NonNullable<import("../wire.js").PlanFault["meant"]> | null}} KnownPath
 */

const SAME_M = 0.0005; // half a millimetre: what a path is rounded to
const TAPS = { motor: "tap", lamp: "tap", douser: "tap", cue: "tap" };

/** The paths that were ever given between two houses, or that the site measured, whichever way: they stay where they are when the chain is another. */
export class KnownPaths {
  constructor() {
    /** @type {Map<string, KnownPath>} */
    this.byPair = new Map();
    /** @type {Map<string, KnownPath>} */
    this.measured = new Map();
    /** @type {SiteHouse[]} */
    this.houses = [];
  }

  /** Learns what a site has, in place of the one before. @param {import("../wire.js").SiteInfo | null} site */
  takeSite(site) {
    this.houses = site?.houses ?? [];
    this.measured = new Map((site?.paths ?? []).map(({ houses: [one, other], key, length, rollers }) => [pairOf(one, other), { key, length, rollers }]));
  }

  /** What the site measured. @param {string} one @param {string} other */
  atSite(one, other) {
    return this.measured.get(pairOf(one, other)) ?? null;
  }

  /** @param {string} name */
  house(name) {
    return this.houses.find(({ house }) => house === name) ?? null;
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
    return this.byPair.get(pairOf(one, other)) ?? this.atSite(one, other);
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

/** A new house at the end of the chain, told of as the last one is, with what the site has of it. @param {PlanView} plan @param {KnownPaths} known @param {string} [wanted] its name; without it the next number that is free @returns {Edit[]} */
export function addHouse(plan, known, wanted = "") {
  const last = plan.count("stations") - 1;
  const house = wanted || nextHouse(plan.houses());
  const booth = plan.value(`stations[${last}].booth`);
  const path = last >= 0 ? known.between(plan.house(last), house) : null;
  const values = {
    id: freeId(plan, autoId(house)),
    house,
    ...(booth === undefined || wanted ? {} : { booth }),
    ...(path ? { [path.key]: path.length, ...(path.rollers === null ? {} : { rollers: path.rollers }) } : {}),
    inputs: inputsOf(plan, last),
    ...known.house(house)?.values,
  };
  return [{ do: "add", list: "stations", at: last + 1, values }];
}

/** The houses of the site that the chain does not have. @param {PlanView} plan @param {KnownPaths} known @returns {SiteHouse[]} */
export function housesLeft(plan, known) {
  const taken = new Set(plan.houses());
  return known.houses.filter(({ house }) => !taken.has(house));
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

/** The print comes in at the other end: every path is as it was, the other way about. @param {PlanView} plan @param {KnownPaths} known @returns {Edit[]} */
export function turnAbout(plan, known) {
  const places = plan.houses().map((_, place) => place);
  const moves = places.slice(1).map((at) => /** @type {Edit} */ ({ do: "move", list: "stations", at, to: 0 }));
  return [...moves, ...pathEdits(plan, places.reverse(), known)];
}

/** The paths of those that come after another house than before: what is known of the new pair, else none. @param {PlanView} plan @param {number[]} order old places in the new order @param {KnownPaths} known @returns {Edit[]} */
function pathEdits(plan, order, known) {
  return order.flatMap((old, place) => {
    const before = order[place - 1];
    if (before === undefined ? old === 0 : before === old - 1 && old > 0) return [];
    const path = before === undefined ? null : known.between(plan.house(before), plan.house(old));
    return path ? pathSet(place, path) : withoutPath(plan, place, old);
  });
}

/** What named a house that goes, and says something without it. @param {PlanView} plan @param {number} at @returns {Edit[]} */
function withoutHouse(plan, at) {
  const [house, id] = [plan.house(at), plan.text(`stations[${at}].id`)];
  const last = plan.houses().filter((each) => each === house).length === 1;
  return [...(last ? replacedIn(plan, "marks", "houses", house, null) : []), ...replacedIn(plan, "stop_groups", "stations", id, null)];
}

/** A house that was called otherwise until now, wherever the plan names it. @param {PlanView} plan as it is, with the new name @param {number} at @param {string} before @param {KnownPaths} known @returns {Edit[]} */
export function renamedHouse(plan, at, before, known) {
  const house = plan.house(at);
  if (house === before || !house) return [];
  const id = plan.text(`stations[${at}].id`);
  const renamed = plan.houses().includes(before) ? [] : replacedIn(plan, "marks", "houses", before, house);
  // An id that came from the house's name follows it; one that a person chose stays.
  const next = id === autoId(before) ? freeId(plan, autoId(house)) : id;
  const renumbered = next === id ? [] : [setting(`stations[${at}].id`, next), ...replacedIn(plan, "stop_groups", "stations", id, next)];
  return [...renumbered, ...renamed, ...siteEdits(plan, at, before, known)];
}

/** What the site has of a house by its new name, where the field is empty or still has what it has of the old one. @param {PlanView} plan @param {number} at @param {string} before @param {KnownPaths} known @returns {Edit[]} */
function siteEdits(plan, at, before, known) {
  const house = plan.house(at);
  const [booth, old, next] = [plan.value(`stations[${at}].booth`), ...[before, house].map((name) => known.house(name)?.values["booth"])];
  const named = typeof next === "string" && (booth === undefined || booth === old) && booth !== next ? [setting(`stations[${at}].booth`, next)] : [];
  const beside = [at, at + 1].filter((place) => place > 0 && place < plan.count("stations"));
  return [...named, ...beside.flatMap((place) => pathFollows(plan, place, place === at ? plan.house(at - 1) : plan.house(at + 1), before, house, known))];
}

/** The path to `place`, one end of which has another name. @param {PlanView} plan @param {number} place @param {string} other @param {string} before @param {string} house @param {KnownPaths} known @returns {Edit[]} */
function pathFollows(plan, place, other, before, house, known) {
  const [here, old, next] = [pathAt(plan, place), known.atSite(other, before), known.atSite(other, house)];
  if (here && !(old && isSame(here, old))) return [];
  if (next) return pathSet(place, next);
  return here ? withoutPath(plan, place, place) : [];
}

/** The paths that the site has otherwise than the plan: `here` is null where the plan has none. @param {PlanView} plan @param {KnownPaths} known @returns {{place: number, here: KnownPath | null, there: KnownPath}[]} */
export function sitePaths(plan, known) {
  return plan.houses().flatMap((house, place, houses) => {
    const there = place > 0 ? known.atSite(houses[place - 1] ?? "", house) : null;
    const here = pathAt(plan, place);
    return there && !(here && isSame(here, there)) ? [{ place, here, there }] : [];
  });
}

/** Every path as the site has it. @param {PlanView} plan @param {KnownPaths} known @returns {Edit[]} */
export function takeSitePaths(plan, known) {
  return sitePaths(plan, known).flatMap(({ place, there }) => pathSet(place, there));
}

/** Whether two paths are as long, to less than a tape shows. @param {KnownPath} one @param {KnownPath} other */
function isSame(one, other) {
  return Math.abs(metresOf(one) - metresOf(other)) < SAME_M;
}

/** @param {KnownPath} path */
function metresOf({ key, length }) {
  return Number(length) * (key === "path_ft" ? 0.3048 : 1);
}

/** @param {number} place @param {KnownPath} path @returns {Edit[]} */
function pathSet(place, { key, length, rollers }) {
  return [setting(`stations[${place}].${key}`, length), setting(`stations[${place}].rollers`, rollers)];
}

/** A place without the path that what stood at `old` had. @param {PlanView} plan @param {number} place @param {number} old @returns {Edit[]} */
function withoutPath(plan, place, old) {
  const had = ["path_ft", "path_m", "rollers"].filter((key) => plan.value(`stations[${old}].${key}`) !== undefined);
  return had.map((key) => setting(`stations[${place}].${key}`, null));
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
  return `h${house
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-|-$/g, "")}`;
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
