// @ts-check
// How far the lacing is, by what is ticked off: what is next, how long the rest takes, and whether it is done in time.

import { capital, countInWords, lengthInWords, plural } from "../words/format.js";
import { momentText } from "../plan/times.js";

/**
 * @typedef {import("../wire.js").ThreadingList} ThreadingList
 * @typedef {import("../wire.js").ThreadingStep} ThreadingStep
 * @typedef {Record<string, number>} Ticks when each thing was ticked off, by its key: ms since 1970 by the server's clock
 * @typedef {object} Progress
 * @property {number} done steps
 * @property {number} all steps
 * @property {string[]} next the keys of the steps that so many people do now
 * @property {number} left_s how long the rest takes
 * @property {number} end_s when it is done, seconds after the motors' time
 */

const SAME_S = 1e-3; // chosen: no plan counts finer
const NIGHT_S = 6 * 3600; // a show that is further off is another night's: chosen
const EVEN_S = 60; // chosen: a minute more or less is no difference

/** @param {ThreadingList} list @returns {import("../words/format.js").HouseClock} the house's clock, which counts to 24 as a plan does */
export function clockOf({ zero, timezone }) {
  return { zero_ms: Date.parse(zero), timezone, locale: "en-GB" };
}

/** @param {ThreadingList} list @param {number} now_ms */
export function secondsAt({ zero }, now_ms) {
  return (now_ms - Date.parse(zero)) / 1000;
}

/** Whether each step is begun only once all before it are done. @param {ThreadingStep[]} steps */
function waits(steps) {
  let end_s = -Infinity;
  return steps.map(({ begins_s, minutes }) => {
    const waiting = begins_s >= end_s - SAME_S;
    end_s = Math.max(end_s, begins_s + minutes * 60);
    return waiting;
  });
}

/**
 * The steps that are left, by so many people, in their order: each is begun as soon as enough are free. Whoever does the
 * first of them has been at it for `spent_s`, and is not done before now.
 * @param {ThreadingList} list @param {Ticks} ticks @param {number} spent_s
 */
function restOf({ steps, crew }, ticks, spent_s) {
  const free = Array.from({ length: crew }, () => 0);
  const waiting = waits(steps);
  let end_s = 0;
  let barrier_s = 0;
  /** @type {string[]} */
  const next = [];
  steps.forEach(({ key, people, minutes }, place) => {
    if (waiting[place]) barrier_s = end_s;
    if (key in ticks) return;
    free.sort((a, b) => a - b);
    const begins_s = Math.max(free[people - 1] ?? 0, barrier_s);
    if (begins_s === 0) next.push(key);
    const ends_s = begins_s === 0 ? Math.max(minutes * 60, spent_s) : begins_s + minutes * 60;
    free.fill(ends_s, 0, people);
    end_s = Math.max(end_s, ends_s);
  });
  return { next, end_s };
}

/** @param {ThreadingList} list @param {Ticks} ticks @param {number} now_ms @returns {Progress} */
export function progressOf(list, ticks, now_ms) {
  const { steps } = list;
  const ticked = steps.filter(({ key }) => key in ticks).map(({ key }) => ticks[key] ?? 0);
  const spent_s = ticked.length ? Math.max(0, (now_ms - Math.max(...ticked)) / 1000) : 0;
  const { next, end_s } = restOf(list, ticks, spent_s);
  const left_s = ticked.length === steps.length ? 0 : end_s - spent_s;
  return { done: ticked.length, all: steps.length, next, left_s, end_s: secondsAt(list, now_ms) + left_s };
}

/** How many things of some are ticked off. @param {{key: string}[]} things @param {Ticks} ticks */
export function doneOf(things, ticks) {
  return things.filter(({ key }) => key in ticks).length;
}

/**
 * Whether the crew is in time for what the plan asks, in a sentence.
 * @param {ThreadingList} list @param {Ticks} ticks @param {Progress} progress @param {number} now_ms @returns {{level: "well" | "late", text: string}}
 */
export function paceInWords(list, ticks, { done, all, end_s }, now_ms) {
  const now_s = secondsAt(list, now_ms);
  const { begin_s, ready_s } = list;
  const [begin, ready, end] = [begin_s, ready_s, end_s].map((t_s) => momentText(clockOf(list), t_s));
  if (now_s > ready_s + NIGHT_S) return { level: "late", text: `The time of this show is past: it was to be ready at ${ready}. Is it the right plan?` };
  if (done === all) return { level: "well", text: lacedInWords(list, ticks) };
  if (done === 0 && now_s < begin_s) {
    return { level: "well", text: `Begin by ${begin}${begin_s - now_s < NIGHT_S ? `, in ${lengthInWords(begin_s - now_s)}` : ""}: ready by ${ready}.` };
  }
  const [spare_s, now] = [ready_s - end_s, done === 0 ? "Begin now" : "On time"];
  if (spare_s >= EVEN_S) return { level: "well", text: `${now}: laced at about ${end}, ${lengthInWords(spare_s)} to spare. Ready by ${ready}.` };
  if (spare_s > -EVEN_S) return { level: "well", text: `Just in time: laced at about ${end}. Ready by ${ready}.` };
  return {
    level: "late",
    text: `Late by ${lengthInWords(-spare_s)}: laced at about ${end}, to be ready by ${ready}. Motors at ${momentText(clockOf(list), 0)}.`,
  };
}

/** @param {ThreadingList} list @param {Ticks} ticks */
function lacedInWords(list, ticks) {
  const last_s = secondsAt(list, Math.max(...list.steps.map(({ key }) => ticks[key] ?? 0)));
  const left = checksLeft(list, ticks);
  const rest = left ? `${capital(countInWords(left))} ${plural(left, "thing is", "things are")} left to check.` : "Everything is checked.";
  return `Laced at ${momentText(clockOf(list), last_s)}. ${rest}`;
}

/** How many things are still to be looked at once more. @param {ThreadingList} list @param {Ticks} ticks */
export function checksLeft({ marks, machines, cues }, ticks) {
  const checks = [...marks, ...machines, ...cues];
  return checks.length - doneOf(checks, ticks);
}

/** How long the rest takes: `26 min left`. @param {Progress} progress */
export function leftInWords({ left_s }) {
  return left_s > 0 ? `${lengthInWords(Math.ceil(left_s / 60) * 60)} left` : "";
}

/** @param {number} people */
export function peopleInWords(people) {
  return `${countInWords(people)} ${plural(people, "person", "people")}`;
}

/** @param {number} minutes */
export function minutesInWords(minutes) {
  const whole_s = Math.max(1, Math.round(minutes * 60));
  return whole_s < 60 ? `${whole_s} s` : `${Math.round(minutes)} min`;
}
