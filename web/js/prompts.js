// @ts-check
// The prompts that are worth a place on a screen: those that are next, with motors that start together as one.

import { countInWords } from "./format.js";

/** @typedef {import("./messages.js").Prompt} Prompt */

const AHEAD_S = 15 * 60; // what opens later than this is not next: chosen

/** Those that are next, in their order. @param {Prompt[]} prompts @param {number} now_s */
export function nearPrompts(prompts, now_s) {
  return prompts.filter(({ kind, from_s }) => kind === "start" || from_s - now_s < AHEAD_S);
}

/** Prompts to show, nearest deadline first. @param {Prompt[]} prompts @param {number} now_s @returns {Prompt[]} */
export function promptsToShow(prompts, now_s) {
  const near = nearPrompts(prompts, now_s);
  const starts = near.filter(({ kind }) => kind === "start");
  const together = new Map(starts.map((prompt) => [prompt.due_s, prompt]));
  const merged = [...together.values()].map((prompt) => {
    const count = starts.filter(({ due_s }) => due_s === prompt.due_s).length;
    return count === 1 ? prompt : { ...prompt, text: `Start ${countInWords(count)} motors together` };
  });
  return [...merged, ...near.filter(({ kind }) => kind !== "start")].sort((a, b) => a.due_s - b.due_s);
}
