// @ts-check
// The next things to do, nearest deadline first, each with the event that says it was done.

import { nearPrompts, promptsBesideHeat, startInWords } from "./prompts.js";
import { isOpen } from "../booth/taps.js";

/**
 * @typedef {import("../wire.js").Prompt} Prompt
 * @typedef {import("../booth/taps.js").LogLine} LogLine
 * @typedef {import("../booth/taps.js").Observation} Observation
 * @typedef {object} Step
 * @property {string} key
 * @property {Prompt["kind"]} kind
 * @property {string} text
 * @property {number} from_s
 * @property {number} due_s
 * @property {Observation[]} done what to report once it is done, in that order
 * @property {LogLine | null} tapped the report, where it was made and nothing has shown it yet
 */

const LAMP_TOO = "put the lamp out";
const CHANGED_SIGMA_S = 15; // a change is ticked off when it is made, which tells little of when its mark was in the gate: chosen
const TAPPED_S = 120; // a report this old no longer stands for what is asked now: chosen

/** What a prompt is answered with; a change with its own mark. @type {Record<Exclude<Prompt["kind"], "change">, Omit<Observation, "station">>} */
const ANSWERS = {
  start: { kind: "motor_start" },
  strike: { kind: "lamp_lit" },
  open_douser: { kind: "douser_open" },
  confirm_head: { kind: "mark_pass", mark: "head" },
  shut_douser: { kind: "douser_shut" },
  shut_lamp: { kind: "lamp_out" },
  house_clear: { kind: "motor_stop" },
  intermission: { kind: "douser_shut" },
};

/**
 * What to do next in a booth; in all of them where `booth` is null.
 * @param {import("./store.js").RunState} state @param {LogLine[]} lines who did what @param {number} now_s @param {string | null} booth @returns {Step[]}
 */
export function stepsToDo(state, lines, now_s, booth) {
  const prompts = nearPrompts(promptsBesideHeat(state.prompts, state.alarms), now_s);
  const together = startTogether(prompts, state.stations.length);
  const here = new Set(stationsIn(state.info, booth));
  const steps = prompts.filter((prompt) => here.has(prompt.station) && !together.includes(prompt)).map(stepFrom);
  const all = together[0] ? [chainStep(together[0], startInWords(together.length, state.info.start)), ...steps] : steps;
  return all.sort((a, b) => a.due_s - b.due_s).map((step) => ({ ...step, tapped: step.done[0] ? reportOf(step.done[0], lines, state.info, now_s) : null }));
}

/** The stations of a booth; all of them where it is null. @param {import("../wire.js").RunInfo} info @param {string | null} booth */
export function stationsIn(info, booth) {
  return info.stations.filter((station) => booth === null || station.booth === booth).map(({ id }) => id);
}

/** The booths of a run, each once, in film order; none where the plan names fewer than two. @param {import("../wire.js").RunInfo} info @returns {string[]} */
export function boothsOf(info) {
  const named = [...new Set(info.stations.flatMap(({ booth }) => booth ?? []))];
  return named.length > 1 ? named : [];
}

/** The starts where all motors are started by one hand; else none. @param {Prompt[]} prompts @param {number} stations */
function startTogether(prompts, stations) {
  const starts = prompts.filter(({ kind }) => kind === "start");
  const alike = starts.every(({ due_s }) => due_s === starts[0]?.due_s);
  return stations > 1 && starts.length === stations && alike ? starts : [];
}

/** @param {Prompt} prompt @returns {Step} */
function stepFrom(prompt) {
  const { kind, station, text, from_s, due_s, mark } = prompt;
  return { key: `${kind} ${station} ${mark ?? ""}`, kind, text, from_s, due_s, done: answersTo(prompt), tapped: null };
}

/** @param {Prompt} prompt @returns {Observation[]} */
function answersTo({ kind, station, mark, text }) {
  if (kind === "change") return [{ kind: "mark_pass", station, mark, sigma_s: CHANGED_SIGMA_S }];
  const answer = { ...ANSWERS[kind], station };
  // Only the words of an intermission say whether its lamp goes out as well: server/timeline/prompts.py.
  return kind === "intermission" && text.includes(LAMP_TOO) ? [answer, { kind: "lamp_out", station }] : [answer];
}

/** @param {Prompt} prompt @param {string} text @returns {Step} */
function chainStep({ kind, from_s, due_s }, text) {
  return { key: "start chain", kind, text, from_s, due_s, done: [{ kind: "chain_start" }], tapped: null };
}

/** The report of something, where it was made of late and still stands; else null. @param {Observation} done @param {LogLine[]} lines @param {import("../wire.js").RunInfo} info @param {number} now_s */
export function reportOf(done, lines, info, now_s) {
  const since_ms = Date.parse(info.zero) + (now_s - TAPPED_S) * 1000;
  const same = lines.find(
    ({ event }) => event.kind === done.kind && (event.station ?? null) === (done.station ?? null) && (event.mark ?? null) === (done.mark ?? null),
  );
  return same && isOpen(same) && Date.parse(same.event.t) > since_ms ? same : null;
}
