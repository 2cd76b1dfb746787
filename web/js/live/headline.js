// @ts-check
// The one headline of a run, made of its alarms, what is set aside, what stands and what is asked for: the same on every desk.

import { boardFrom, isSlack, saidText, shortPlace } from "./alarms.js";
import { slackAt } from "../picture/estimate.js";
import { clockText, countInWords, houseClock } from "../words/format.js";
import { heatFrom, heatInWords } from "./heat.js";
import { promptsBesideHeat, promptsToShow } from "./prompts.js";
import { quietText } from "./quiet.js";
import { chainStands } from "./standing.js";
import { taskTime } from "./tasktime.js";

/**
 * @typedef {import("../wire.js").Alarm} Alarm
 * @typedef {import("./store.js").RunState} RunState
 * @typedef {"act" | "watch" | "shelved" | "stands" | "do" | "calm"} HeadlineKind
 * @typedef {{kind: HeadlineKind, text: string}} Headline
 */

/** What a desk says first: the worst that is wrong, else what is set aside, what stands, what is to be done, or what goes on. @param {RunState} state @param {number} now_s @returns {Headline} */
export function headlineOf(state, now_s) {
  return wrong(state, now_s) ?? stands(state, now_s) ?? aside(state, now_s) ?? asked(state, now_s) ?? { kind: "calm", text: quietText(state, now_s) };
}

/** The same on a desk that may have lost its server: what was well may be so no more, and nothing is said of it. @param {RunState} state @param {number} now_s @param {boolean} lost @returns {Headline | null} */
export function headlineIfKnown(state, now_s, lost) {
  const headline = headlineOf(state, now_s);
  return lost && headline.kind === "calm" ? null : headline;
}

/** The worst alarm that is on, and how many more there are. @param {RunState} state @param {number} now_s @returns {Headline | null} */
function wrong(state, now_s) {
  const { alarms, info, prompts } = state;
  const { groups } = boardFrom(alarms, now_s, prompts);
  const loud = groups.filter(({ alarm }) => alarm.level !== "note").map(({ alarm }) => alarm);
  const heat = heatFrom(alarms, info);
  const [worst] = heat.length ? heat : loud;
  if (!worst) return null;
  const more = heat.length ? loud.length : loud.length - 1;
  const text = heat.length ? (heatInWords(heat, info).text.split(/[:.]/, 1)[0] ?? "") : wrongInWords(worst, state, now_s);
  return { kind: worst.level === "act" ? "act" : "watch", text: more ? `${text}, and ${countInWords(more)} more` : text };
}

/** `8 to 7: the film is running tight`; where its slack comes back, that is said. @param {Alarm} alarm @param {RunState} state @param {number} now_s */
function wrongInWords(alarm, state, now_s) {
  const said = saidText(alarm);
  return recovering(state, now_s).has(alarm.subject) && isSlack(alarm) ? `${said}, and recovers` : said;
}

/** The links whose slack is coming back to rest, surer than not by one standard deviation. @param {RunState} state @param {number} now_s @returns {Set<string>} their ids */
export function recovering({ links }, now_s) {
  const comeBack = links.filter((link) => {
    const slack_s = slackAt(link, now_s);
    return slack_s !== null && link.drift !== null && slack_s * link.drift < 0 && link.drift ** 2 > (link.slack_var?.[2] ?? 0);
  });
  return new Set(comeBack.map(({ id }) => id));
}

/** @param {RunState} state @param {number} now_s @returns {Headline | null} */
function stands(state, now_s) {
  return chainStands(state) ? { kind: "stands", text: quietText(state, now_s) } : null;
}

/** What somebody set aside is still so. @param {RunState} state @param {number} now_s @returns {Headline | null} */
function aside(state, now_s) {
  const { alarms, info } = state;
  const shelved = boardFrom(alarms).shelved.filter(({ level }) => level !== "note");
  const [first] = shelved;
  if (!first) return null;
  const until = `shelved until ${clockText(houseClock(info), first.shelved_until_s ?? 0)}`;
  const more = shelved.length - 1;
  return {
    kind: "shelved",
    text: more ? `${shortPlace(first)} and ${countInWords(more)} more, still on: ${until}` : `${wrongInWords(first, state, now_s)} (${until})`,
  };
}

/** What is to be done at this moment. @param {RunState} state @param {number} now_s @returns {Headline | null} */
function asked(state, now_s) {
  const { prompts, alarms, info } = state;
  const [next] = promptsToShow(promptsBesideHeat(prompts, alarms), now_s, info.start);
  const is = next && taskTime(next, now_s).is;
  if (!next || is === "in") return null;
  return { kind: "do", text: is === "over" ? `${next.text}, late` : next.text };
}
