// @ts-check
// The print changed: pieces put in, moved and taken out; marks in it.

import { setting } from "./view.js";

/**
 * @typedef {NonNullable<import("../wire.js").CheckRequest["edits"]>[number]} Edit
 * @typedef {import("./view.js").PlanView} PlanView
 * @typedef {"duration" | "feet" | "frames"} LengthKey
 */

/** Kinds of pieces as a person says them. @type {[string, string][]} */
export const KINDS = [
  ["leader", "head leader"],
  ["trailer", "trailer"],
  ["feature", "feature"],
  ["credits", "credits"],
  ["intermission", "intermission"],
  ["tail", "tail leader"],
];

/** Units of a length, and what each is called. @type {[LengthKey, string][]} */
export const LENGTHS = [
  ["duration", "time"],
  ["feet", "feet"],
  ["frames", "frames"],
];

/** In which unit an entry has its length; time where it has none yet. @param {PlanView} plan @param {string} entry @returns {LengthKey} */
export function lengthKey(plan, entry) {
  return LENGTHS.map(([key]) => key).find((key) => plan.value(`${entry}.${key}`) !== undefined) ?? "duration";
}

/** A new piece before the tail: what comes to mind next is a trailer while there is no feature, then credits. @param {PlanView} plan @returns {{edits: Edit[], at: number}} */
export function addPiece(plan) {
  const kinds = kindsOf(plan);
  const kind = kinds.length === 0 ? "leader" : !kinds.includes("feature") || kinds.includes("credits") ? "trailer" : "credits";
  const behind = kind === "trailer" ? kinds.lastIndexOf("trailer") : kinds.length - 1;
  const tail = kinds.indexOf("tail");
  const at = kind === "trailer" && behind < 0 ? Math.min(1, kinds.length) : tail >= 0 ? Math.min(behind + 1, tail) : behind + 1;
  const title = kind === "trailer" ? "Trailer" : kind === "credits" ? "Credits" : "Head leader";
  return { edits: [{ do: "add", list: "print", at, values: { id: freeId(plan, "print", kind), kind, title } }], at };
}

/** @param {PlanView} plan */
function kindsOf(plan) {
  return Array.from({ length: plan.count("print") }, (_, place) => plan.text(`print[${place}].kind`));
}

/** @param {number} at @param {number} to its place once it is out @returns {Edit[]} */
export function movePiece(at, to) {
  return [{ do: "move", list: "print", at, to }];
}

/** A piece goes, and the marks that count from it with it. @param {PlanView} plan @param {number} at @returns {Edit[]} */
export function takeOutPiece(plan, at) {
  const id = plan.text(`print[${at}].id`);
  const marks = marksAfter(plan, id).reverse();
  return [...marks.map((place) => /** @type {Edit} */ ({ do: "remove", list: "marks", at: place })), { do: "remove", list: "print", at }];
}

/** @param {PlanView} plan @param {string} id */
export function marksAfter(plan, id) {
  return Array.from({ length: plan.count("marks") }, (_, place) => place).filter((place) => plan.text(`marks[${place}].after`) === id);
}

/** A new mark in the feature, or in the last piece. @param {PlanView} plan @returns {Edit[]} */
export function addMark(plan) {
  const kinds = kindsOf(plan);
  const piece = Math.max(kinds.includes("feature") ? kinds.indexOf("feature") : kinds.length - 1, 0);
  const values = { id: freeId(plan, "marks", "mark"), after: plan.text(`print[${piece}].id`) };
  return [{ do: "add", list: "marks", at: plan.count("marks"), values }];
}

/** @param {number} at @returns {Edit[]} */
export function takeOutMark(at) {
  return [{ do: "remove", list: "marks", at }];
}

/** Where something is to be done: in all houses where every one is chosen, or none. @param {PlanView} plan @param {number} mark @param {string} house @param {boolean} chosen @returns {Edit[]} */
export function markIn(plan, mark, house, chosen) {
  const path = `marks[${mark}].houses`;
  const houses = [...new Set(plan.houses())];
  const named = plan.value(path);
  const before = Array.isArray(named) ? named : houses;
  const after = houses.filter((each) => (each === house ? chosen : before.includes(each)));
  return [setting(path, after.length === 0 || after.length === houses.length ? null : after)];
}

/** An id that nothing of the print has: `trailer`, `trailer2`. @param {PlanView} plan @param {"print" | "marks"} list @param {string} wanted */
function freeId(plan, list, wanted) {
  const taken = new Set(
    /** @type {const} */ (["print", "marks"]).flatMap((each) => Array.from({ length: plan.count(each) }, (_, place) => plan.text(`${each}[${place}].id`))),
  );
  const plain = list === "print" && wanted === "tail" ? "tail" : wanted;
  for (let number = 1; ; number++) {
    const id = number === 1 ? plain : `${plain}${number}`;
    if (!taken.has(id)) return id;
  }
}
