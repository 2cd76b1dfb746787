// @ts-check
// Alarms in the order that people need them: the worst first, and what follows from one under it.

import { capital, countInWords, plural } from "../words/format.js";
import { housesInWords } from "../words/names.js";

/**
 * @typedef {import("../wire.js").Alarm} Alarm
 * @typedef {{alarm: Alarm, follows: Alarm[]}} AlarmGroup
 * @typedef {{heat: Alarm[], groups: AlarmGroup[], returned: Alarm[], shelved: Alarm[]}} AlarmBoard `heat`: film that stands in the light, which comes before all else
 */

const RANK = { act: 0, watch: 1, note: 2 };

/** What a level is called where alarms are listed. */
export const LEVEL_WORDS = { act: "Act now", watch: "Watch", note: "Note" };

/** The order of harm: light off the film, then what stopped, then film that has no reserve left. @type {Record<string, number>} */
const HARM = { film_heat: 0, film_trip: 1, motor_lost: 1, start_missing: 1, reserve_spent: 2 };
const NO_HARM = 3;

const SLACK = new Set(["slack_tight", "slack_loose"]);
const AT_ONCE_S = 5; // what is told within this of one another came at once to a crew: chosen
const MOST_LETTERS = 80; // of places whose alarms follow from another, told one by one: chosen
const ABSENT_S = 3600; // what went off by itself so long ago is no news any more: chosen

/**
 * Worst first; among equals those nobody has acknowledged, then in the order of harm, then the oldest.
 * @param {Alarm} a @param {Alarm} b
 */
export function worstFirst(a, b) {
  return (
    RANK[a.level] - RANK[b.level] ||
    Number(a.state === "acknowledged") - Number(b.state === "acknowledged") ||
    (HARM[a.kind] ?? NO_HARM) - (HARM[b.kind] ?? NO_HARM) ||
    a.since_s - b.since_s ||
    a.key.localeCompare(b.key)
  );
}

/** Film in the light, whoever has seen it: `act` first, then the oldest, to the second. @param {Alarm} a @param {Alarm} b */
export function hottestFirst(a, b) {
  return RANK[a.level] - RANK[b.level] || Math.round(a.since_s) - Math.round(b.since_s);
}

/** Film in the light first. Then every alarm that calls, with what follows from it, what went off unacknowledged of late, and what is set aside, by when it comes back. What came at once stands in the order in which it is asked for. @param {Alarm[]} alarms @param {number} [now_s] none keeps all that went off @param {import("../wire.js").Prompt[]} [prompts] by deadline @returns {AlarmBoard} */
export function boardFrom(alarms, now_s = -Infinity, prompts = []) {
  const byKey = new Map(alarms.map((alarm) => [alarm.key, alarm]));
  const isOn = (/** @type {Alarm} */ alarm) => alarm.state !== "returned";
  const first = (/** @type {Alarm} */ alarm) => alarm.told || alarm.cause === null || !byKey.has(alarm.cause);
  const shelved = alarms.filter((alarm) => isOn(alarm) && alarm.shelved_until_s !== null);
  const all = alarms.filter((alarm) => isOn(alarm) && alarm.shelved_until_s === null);
  const heat = all.filter(({ kind }) => kind === "film_heat").sort(hottestFirst);
  const open = all.filter(({ kind }) => kind !== "film_heat");
  const groups = open.filter(first).map((alarm) => ({ alarm, follows: /** @type {Alarm[]} */ ([]) }));
  for (const alarm of open.filter((each) => !first(each)).sort(worstFirst)) {
    const root = rootOf(alarm, byKey);
    const group = groups.find((each) => each.alarm.key === root);
    if (group) group.follows.push(alarm);
    else groups.push({ alarm, follows: [] }); // its first-out is off or set aside: it stands for itself
  }
  groups.sort((a, b) => worstFirst(a.alarm, b.alarm));
  shelved.sort((a, b) => (a.shelved_until_s ?? 0) - (b.shelved_until_s ?? 0));
  return {
    heat,
    groups: inOrderOf(groups, prompts),
    returned: alarms.filter((alarm) => !isOn(alarm) && now_s - (alarm.off_s ?? alarm.since_s) < ABSENT_S).sort(worstFirst),
    shelved,
  };
}

/** Sorts what is alike and came at once by what is asked for first, so that the first alarm and the first thing to do are at one place. @param {AlarmGroup[]} groups worst first @param {import("../wire.js").Prompt[]} prompts */
function inOrderOf(groups, prompts) {
  const rank = (/** @type {AlarmGroup} */ { alarm }) =>
    (prompts.findIndex(({ station }) => station === alarm.subject) + prompts.length + 1) % (prompts.length + 1);
  let together = /** @type {AlarmGroup[]} */ ([]);
  return groups.flatMap((group, place) => {
    const next = groups[place + 1];
    together.push(group);
    if (next && isAtOnce(group.alarm, next.alarm)) return [];
    const done = together.sort((a, b) => rank(a) - rank(b));
    together = [];
    return done;
  });
}

/** @param {Alarm} one @param {Alarm} next */
function isAtOnce(one, next) {
  return one.kind === next.kind && one.level === next.level && one.state === next.state && next.since_s - one.since_s < AT_ONCE_S;
}

/** Whether it is what somebody says: its words come first, and are its own. @param {Alarm} alarm */
export function isSaid({ kind }) {
  return kind === "call" || kind === "house_report";
}

/** Whether it is about film that runs tight or loose. @param {Alarm} alarm */
export function isSlack({ kind }) {
  return SLACK.has(kind);
}

/**
 * How an alarm is headed: the place and what to do there, or what somebody says; then the other, which a call does not need.
 * @param {Alarm} alarm @param {boolean} [recovers] whether the slack that it is about comes back @returns {[string, string]}
 */
export function wordsOf(alarm, recovers = false) {
  const { todo, kind } = alarm;
  const text = saidText(alarm);
  if (isSaid(alarm)) return [text, kind === "call" ? "" : todo];
  if (todo === "") return [text, ""];
  if (!isSlack(alarm)) return [todoAt(alarm.place, alarm), text];
  const [first, ...rest] = todoOfSlack(recovers);
  return [`${alarm.place}: ${first}`, [`${capital(alarm.what)}${recovers ? ", and recovers" : ""}.`, ...rest].join(" ")];
}

/** What to do at places, the places first, where it does not name them itself. @param {string} places @param {Alarm} alarm */
function todoAt(places, { todo, names_places }) {
  return names_places || places === "" ? todo : `${places}: ${todo.charAt(0).toLowerCase()}${todo.slice(1)}`;
}

/** The same of several alarms of one kind: `House 2, House 9: strike the lamp now`. @param {Alarm[]} alarms at least one @param {boolean} [recover] whether the slack of all of them comes back */
export function wordsOfAlike(alarms, recover = false) {
  const [first] = alarms;
  const places = alarms.map(({ place }) => place).join(", ");
  if (!first) return "";
  return isSlack(first) ? `${places}: ${todoOfSlack(recover)[0]}` : todoAt(places, first);
}

/** @param {boolean} recovers @returns {[string, ...string[]]} */
function todoOfSlack(recovers) {
  return [recovers ? "stay by it, be ready to stop" : "go to it, be ready to stop", "Keep your hands off the film."];
}

/** What is wrong and where, as people name it: `8 to 7: the film is running tight`. @param {Alarm} alarm */
export function saidText({ place, what }) {
  return place === "" ? what : `${place}: ${what}`;
}

/** What an alarm is about, short: `House 5`, `8 to 7`; what it says where that has no place. @param {Alarm} alarm */
export function shortPlace({ place, what }) {
  return place === "" ? what : place;
}

/**
 * Groups of one kind and level together, each in the place of its first: a wall has no room for a line each in a flood.
 * What somebody says stands for itself.
 * @param {AlarmGroup[]} groups @returns {AlarmGroup[][]}
 */
export function alike(groups) {
  const bundles = new Map();
  for (const group of groups) {
    const { kind, level, key } = group.alarm;
    const like = isSaid(group.alarm) ? key : `${level} ${kind}`;
    const bundle = bundles.get(like);
    if (bundle) bundle.push(group);
    else bundles.set(like, [group]);
  }
  return [...bundles.values()];
}

/** What to do about an alarm, where the light on standing film is asked for beside it already. @param {Alarm} alarm @param {Alarm[]} heat */
export function todoBeside({ todo }, heat) {
  const houses = heat.map(({ place }) => place.replace("House ", ""));
  const light = `Shut the douser${houses.length > 1 ? "s" : ""} of ${housesInWords(houses)}. `;
  return todo.startsWith(light) ? todo.slice(light.length) : todo;
}

/**
 * What follows from an alarm: what else happens at its own place is said, other places are named; in a stop that runs
 * along the chain that is much.
 * @param {AlarmGroup} group
 */
export function followsInWords({ alarm, follows }) {
  const here = follows.filter(({ place }) => place === alarm.place).map(({ what }) => what);
  const elsewhere = [...new Set(follows.map(shortPlace).filter((place) => place !== alarm.place))];
  const named = elsewhere.join(", ");
  const places = elsewhere.length > 1 && named.length > MOST_LETTERS ? `${countInWords(elsewhere.length)} other places` : named;
  return [...here, ...(places ? [`alarms at ${places}`] : [])].join("; ");
}

/** How one alarm went off that nobody had acknowledged: what somebody says goes off so where it is taken back. @param {Alarm} alarm */
export function wentOffAlone(alarm) {
  return `${isSaid(alarm) ? "Taken back" : "Went off by itself"}, not acknowledged`;
}

/** What went off unacknowledged, where it is not told one by one: `Nine alarms went off by themselves`. @param {number} count */
export function wentOffInWords(count) {
  return `${capital(countInWords(count))} ${plural(count, "alarm")} went off by ${plural(count, "itself", "themselves")}`;
}

/** The key of the first-out alarm that this one hangs on. @param {Alarm} alarm @param {Map<string, Alarm>} byKey */
function rootOf(alarm, byKey) {
  const seen = new Set();
  let root = alarm;
  while (!root.told && root.cause !== null && !seen.has(root.key)) {
    seen.add(root.key);
    const cause = byKey.get(root.cause);
    if (!cause) break;
    root = cause;
  }
  return root.key;
}

/** The worst level that is on for each subject, without what is set aside; a call is about no film. @param {Alarm[]} alarms @returns {Map<string, import("../wire.js").Alarm["level"]>} */
export function levelBySubject(alarms) {
  const levels = new Map();
  for (const alarm of [...alarms].sort(worstFirst).reverse()) {
    if (alarm.state !== "returned" && alarm.shelved_until_s === null && alarm.kind !== "call") levels.set(alarm.subject, alarm.level);
  }
  return levels;
}
