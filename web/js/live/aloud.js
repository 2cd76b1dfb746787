// @ts-check
// What is read out to those who do not look: what calls at once, and what is told when there is time.

import { boardFrom, todoBeside, wordsOf } from "./alarms.js";
import { houseClock, timeText } from "../words/format.js";
import { headlineIfKnown, recovering } from "./headline.js";
import { heatFrom, heatInWords } from "./heat.js";
import { askedOf, notReady } from "./ready.js";
import { standAt } from "./restart.js";

/** @typedef {import("./store.js").RunState} RunState */

/** What calls at once: what is wrong with the run itself, film in the light, what has to be acted on now. @param {RunState} state @param {number} now_s @param {import("../wire.js").Alarm[]} [alarms] those of this desk @returns {string[]} */
export function alertsOf(state, now_s, alarms = state.alarms) {
  const { heat, groups } = boardFrom(alarms, now_s, state.prompts);
  const acts = groups.filter(({ alarm }) => alarm.level === "act").map(({ alarm }) => ({ ...alarm, todo: todoBeside(alarm, heat) }));
  const inTheLight = heat.length ? Object.values(heatInWords(heatFrom(alarms, state.info), state.info)).join(". ") : "";
  return [
    state.fault ? brokenInWords(state.fault) : "",
    ...state.warnings,
    inTheLight,
    ...acts.map((alarm) => `Act now: ${wordsOf(alarm, recovering(state, now_s).has(alarm.subject)).filter(Boolean).join(" ")}`),
  ].filter(Boolean);
}

/** How a desk goes on, where nothing calls: its headline, how a chain that stands comes to its start, who is waited for. @param {RunState} state @param {number} now_s @param {boolean} lost @returns {string[]} */
export function statusOf(state, now_s, lost) {
  const headline = headlineIfKnown(state, now_s, lost);
  const { restart, info } = state;
  const waited = restart ? notReady(restart, info) : "";
  return [
    headline && headline.kind !== "act" ? headline.text : "",
    restart?.before === "restart"
      ? standAt(askedOf(restart), now_s, restart.start_s === null ? "" : timeText(houseClock(info), restart.start_s, now_s, true))
      : "",
    waited ? `${waited}: not ready` : "",
  ].filter(Boolean);
}

/** Why what a desk shows can no longer be trusted. @param {string} fault */
export function brokenInWords(fault) {
  return `This run no longer follows its events: ${fault}`;
}
