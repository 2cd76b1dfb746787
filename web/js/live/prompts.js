// @ts-check
// The prompts that are worth a place on a screen: those that are next, with motors that start together as one.

import { boardFrom } from "./alarms.js";
import { countInWords } from "../words/format.js";
import { housesInWords } from "../words/names.js";

/** @typedef {import("../wire.js").Prompt} Prompt */

const AHEAD_S = 15 * 60; // what opens later than this is not next: chosen
const AT_ONCE_S = 5; // what is due within this of one another is one thing to a crew: chosen
const OF_A_STOP = new Set(["shut_douser", "shut_lamp"]);

/** Those that film in the light is not already called for: that block asks the same, and first. @param {Prompt[]} prompts @param {import("../wire.js").Alarm[]} alarms */
export function promptsBesideHeat(prompts, alarms) {
  const called = new Set(boardFrom(alarms).heat.map(({ subject }) => subject));
  return prompts.filter(({ kind, station }) => kind !== "shut_douser" || !called.has(station));
}

/** Those that are next, in their order: what film that has gone by asked for is gone. @param {Prompt[]} prompts @param {number} now_s */
export function nearPrompts(prompts, now_s) {
  return prompts.filter(({ kind, from_s, until_s }) => (kind === "start" || from_s - now_s < AHEAD_S) && (until_s === null || now_s <= until_s));
}

/** How motors that start together are started, in one line. @param {number} count @param {import("../wire.js").RunInfo["start"]} start */
export function startInWords(count, start) {
  const motors = `${countInWords(count)} motors`;
  if (start === "common") return `Start ${motors} with the common button`;
  return start === "hands" ? `Start ${motors} together, by hand` : `See that ${countInWords(count)} timers start the motors together`;
}

/** Prompts to show, nearest deadline first. @param {Prompt[]} prompts @param {number} now_s @param {import("../wire.js").RunInfo["start"]} start @returns {Prompt[]} */
export function promptsToShow(prompts, now_s, start) {
  const near = nearPrompts(prompts, now_s);
  const starts = near.filter(({ kind }) => kind === "start");
  const together = new Map(starts.map((prompt) => [prompt.due_s, prompt]));
  const merged = [...together.values()].map((prompt) => {
    const count = starts.filter(({ due_s }) => due_s === prompt.due_s).length;
    return count === 1 ? prompt : { ...prompt, text: startInWords(count, start) };
  });
  return [...merged, ...asOne(near.filter(({ kind }) => kind !== "start"))].sort((a, b) => a.due_s - b.due_s);
}

/** What a stop asks of several houses at one time is one line: `Houses 3 and 4: shut down the lamp`. @param {Prompt[]} prompts */
function asOne(prompts) {
  /** @type {Prompt[][]} */
  const groups = [];
  for (const prompt of prompts) {
    const group = groups.find(([first]) => first && OF_A_STOP.has(prompt.kind) && isSameAs(first, prompt));
    if (group) group.push(prompt);
    else groups.push([prompt]);
  }
  return groups.map((group) => {
    const first = /** @type {Prompt} */ (group[0]);
    const houses = group.map(({ text }) => text.split(":", 1)[0]?.replace("House ", "") ?? "").sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));
    return group.length === 1 ? first : { ...first, text: `${housesInWords(houses)}:${first.text.split(/:(.*)/s)[1]}` };
  });
}

/** @param {Prompt} one @param {Prompt} other */
function isSameAs(one, other) {
  const said = (/** @type {Prompt} */ { text }) => text.split(/:(.*)/s)[1];
  return one.kind === other.kind && said(one) === said(other) && Math.abs(one.due_s - other.due_s) < AT_ONCE_S;
}
