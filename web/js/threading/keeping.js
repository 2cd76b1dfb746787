// @ts-check
// What a tablet keeps of a threading list: the list as it was last told, and what was ticked off. It stays on this device.

import { capital, countInWords, plural } from "../words/format.js";
import { momentText } from "../plan/times.js";
import { clockOf } from "./progress.js";

/**
 * @typedef {import("../wire.js").ThreadingList} ThreadingList
 * @typedef {import("./progress.js").Ticks} Ticks
 * @typedef {object} KeptList
 * @property {ThreadingList} list
 * @property {Ticks} ticks
 * @property {string[]} changed the keys of what became another since it was begun
 * @property {string} notice what became another, in words; empty once it was seen
 * @property {number} heard_ms when the server last told the list, by its clock
 * @property {number} ahead_ms how far its clock is ahead of this device's
 * @typedef {Pick<Storage, "getItem" | "setItem" | "key" | "length">} Shelf
 */

const PLACE = "festoon.threading.";
const OTHER_SHOW_S = 6 * 3600; // a start that moved by more is another show's: chosen

/** @param {KeptList["list"]} list */
function everything({ steps, marks, machines, cues }) {
  return [...steps, ...marks, ...machines, ...cues];
}

/**
 * What is kept once the server has told the list again: ticks of what is the same stay, those of another show do not.
 * @param {KeptList | null} before @param {ThreadingList} list @param {number} device_ms the device's clock as it came @returns {KeptList}
 */
export function keptAfter(before, list, device_ms) {
  const heard_ms = Date.parse(list.now);
  const told = { list, heard_ms, ahead_ms: heard_ms - device_ms };
  if (before === null) return { ...told, ticks: {}, changed: [], notice: "" };
  if (isOtherShow(before.list, list)) return { ...told, ticks: {}, changed: [], notice: Object.keys(before.ticks).length ? otherShowInWords(list) : "" };
  const known = new Set(everything(before.list).map(({ key }) => key));
  const keys = everything(list).map(({ key }) => key);
  const ticks = Object.fromEntries(Object.entries(before.ticks).filter(([key]) => keys.includes(key)));
  const fresh = keys.filter((key) => !known.has(key));
  const changed = keys.filter((key) => fresh.includes(key) || before.changed.includes(key));
  const lost = Object.keys(before.ticks).length - Object.keys(ticks).length;
  const same = before.list.base === list.base && fresh.length === 0 && lost === 0;
  const notice = same ? before.notice : changeInWords(before.list, list, fresh.length, Object.keys(ticks).length, lost);
  return { ...told, ticks, changed, notice };
}

/** @param {ThreadingList} before @param {ThreadingList} after */
function isOtherShow(before, after) {
  return Math.abs(Date.parse(after.zero) - Date.parse(before.zero)) > OTHER_SHOW_S * 1000;
}

/** @param {ThreadingList} list */
export function dayInWords({ zero, timezone }) {
  return new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", timeZone: timezone }).format(Date.parse(zero)).replace(",", "");
}

/** @param {ThreadingList} list */
function otherShowInWords(list) {
  return `This plan is of another show now: ${dayInWords(list)}, motors at ${momentText(clockOf(list), 0)}. The ticks of the show before are taken back.`;
}

/** @param {ThreadingList} before @param {ThreadingList} list @param {number} fresh how many things are another or new @param {number} kept ticks @param {number} lost ticks */
function changeInWords(before, list, fresh, kept, lost) {
  const at = momentText(clockOf(list), (Date.parse(list.saved_at) - Date.parse(list.zero)) / 1000);
  const saved = before.base === list.base ? "What this list is made of was changed." : `The plan was changed at ${at} by ${list.saved_by}.`;
  const stay = kept ? ` ${capital(countInWords(kept))} ${plural(kept, "tick stays", "ticks stay")}.` : "";
  const gone = lost ? ` ${capital(countInWords(lost))} ${plural(lost, "tick was", "ticks were")} of what is not the same any more: look at it again.` : "";
  if (fresh === 0) return `${saved} ${lost ? "Some of it is not to be done any more." : "Every step is the same."}${stay}${gone}`;
  return `${saved} ${capital(countInWords(fresh))} ${plural(fresh, "thing is", "things are")} another or new, marked “Changed”.${stay}${gone}`;
}

/** Ticks a thing off, or takes that back. @param {KeptList} kept @param {string} key @param {number} now_ms @returns {KeptList} */
export function toggled(kept, key, now_ms) {
  const { [key]: was, ...others } = kept.ticks;
  if (was !== undefined) return { ...kept, ticks: others };
  return { ...kept, ticks: { ...kept.ticks, [key]: now_ms }, changed: kept.changed.filter((each) => each !== key) };
}

/** Where this device keeps things; a browser that forbids it keeps nothing. @returns {Shelf} */
export function deviceShelf() {
  try {
    return localStorage;
  } catch {
    return { length: 0, key: () => null, getItem: () => null, setItem: () => refuse() };
  }
}

function refuse() {
  throw new Error("This browser keeps nothing.");
}

/** What was kept of a plan, or null. @param {Shelf} shelf @param {string} name @returns {KeptList | null} */
export function keptOf(shelf, name) {
  try {
    const kept = JSON.parse(shelf.getItem(PLACE + name) ?? "null");
    return isWhole(kept) ? kept : null;
  } catch {
    return null;
  }
}

/** Whether the device keeps it. @param {Shelf} shelf @param {string} name @param {KeptList} kept */
export function keep(shelf, name, kept) {
  try {
    shelf.setItem(PLACE + name, JSON.stringify(kept));
    return true;
  } catch {
    return false; // full, or forbidden: the page itself still has it
  }
}

/** The plans of which this device keeps a list: their names, titles and days. @param {Shelf} shelf @returns {{name: string, title: string, when: string}[]} */
export function keptNames(shelf) {
  const places = Array.from({ length: shelf.length }, (_, place) => shelf.key(place) ?? "");
  return places
    .filter((place) => place.startsWith(PLACE))
    .map((place) => place.slice(PLACE.length))
    .flatMap((name) => {
      const kept = keptOf(shelf, name);
      return kept ? [{ name, title: kept.list.title, when: dayInWords(kept.list) }] : [];
    });
}

/** Whether a list has all that this page shows: one that an earlier page kept may not. @param {any} kept @returns {kept is KeptList} */
function isWhole(kept) {
  const lists = ["steps", "marks", "machines", "cues", "cautions"];
  return (
    typeof kept?.ticks === "object" &&
    kept.ticks !== null &&
    Array.isArray(kept.changed) &&
    typeof kept.heard_ms === "number" &&
    typeof kept.ahead_ms === "number" &&
    lists.every((list) => Array.isArray(kept.list?.[list]))
  );
}
