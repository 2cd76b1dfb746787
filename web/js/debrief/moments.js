// @ts-check
// The moments of a run that are worth going to: what was observed, and what desks were told. Found by words, gone through in order.

import { eventInWords } from "../words/words.js";

/**
 * @typedef {import("../wire.js").ArrivedEvent} KnownEvent
 * @typedef {import("../wire.js").SeriesAlarm} SeriesAlarm
 * @typedef {import("../wire.js").Story["clock"]} KnownClock
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {object} Moment
 * @property {string} id
 * @property {number} at_s
 * @property {"event" | "alarm"} is
 * @property {import("../wire.js").Alarm["level"] | null} level of an alarm
 * @property {string} text
 * @property {string} more what else there is to say: who, how late, taken back
 * @property {string} words everything that a search looks in, in small letters
 * @property {boolean} undone what was taken back later: not a moment of the run as it is known now
 */

const SAME_S = 0.0005; // two moments nearer than this are one to step to: half of what the wire tells
const LATE_S = 2; // a tap that arrived later than this was late: chosen

/**
 * Every moment in order of time, by a clock. What was taken back is left out where it is known now, and stands where it was known then.
 * @param {KnownEvent[]} events @param {SeriesAlarm[]} alarms @param {RunInfo} info @param {KnownClock} clock @returns {Moment[]}
 */
export function momentsFrom(events, alarms, info, clock) {
  const shown = clock === "now" ? events.filter(({ retracted_by, event }) => retracted_by === null && event.kind !== "retract") : events;
  const byId = new Map(events.map((known) => [known.event.id, known]));
  return [...shown.map((known) => eventMoment(known, byId, info, clock)), ...alarms.map(alarmMoment)].sort(
    (a, b) => a.at_s - b.at_s || (a.is === b.is ? 0 : a.is === "event" ? -1 : 1),
  );
}

/** @param {KnownEvent} known @param {Map<string, KnownEvent>} byId @param {RunInfo} info @param {KnownClock} clock @returns {Moment} */
function eventMoment(known, byId, info, clock) {
  const { event, at_s, arrived_s, late_s } = known;
  const taken = event.kind === "retract" ? byId.get(event.retracts ?? "") : undefined;
  const text = taken ? `Taken back: ${eventInWords(taken.event, info)}` : eventInWords(event, info);
  const more = [
    event.by ? `by ${event.by}` : "",
    sourceInWords(event.source),
    late_s > LATE_S ? `${late_s.toFixed(0)} s late` : "",
    known.retracted_by !== null ? "taken back later" : "",
  ].filter((part) => part !== "");
  return {
    id: `event ${known.seq}`,
    at_s: clock === "now" ? at_s : arrived_s,
    is: "event",
    level: null,
    text,
    more: more.join(", "),
    words: `${text} ${more.join(" ")} ${event.kind} ${event.id} ${event.station ?? ""} ${event.mark ?? ""} ${event.text ?? ""}`.toLowerCase(),
    undone: known.retracted_by !== null,
  };
}

/** @param {SeriesAlarm} alarm @returns {Moment} */
function alarmMoment(alarm) {
  const more = [
    alarm.cause === null ? "" : "follows from another",
    alarm.seen_s === null ? "not seen" : `seen by ${alarm.seen_by ?? "somebody"}`,
    alarm.lasted_s === null ? "still on at the end" : `for ${alarm.lasted_s.toFixed(0)} s`,
  ].filter((part) => part !== "");
  return {
    id: `alarm ${alarm.key} ${alarm.told_s}`,
    at_s: alarm.told_s,
    is: "alarm",
    level: alarm.level,
    text: alarm.text,
    more: more.join(", "),
    words: `alarm ${alarm.level} ${alarm.text} ${alarm.kind} ${alarm.key} ${alarm.todo} ${more.join(" ")}`.toLowerCase(),
    undone: false,
  };
}

/** Where it comes from, as a person says it. @param {string} source */
export function sourceInWords(source) {
  const [kind = "", name = ""] = source.split(/:(.*)/s);
  if (name === "debrief") return "added in the debrief";
  return { tap: "tapped", contact: `contact ${name}`.trim(), recording: "from a recording" }[kind] ?? source;
}

/** Those in which every word is found; a word of a quoted time as it is shown is one too. @param {Moment[]} moments @param {string} asked @param {(at_s: number) => string} timeText */
export function found(moments, asked, timeText) {
  const words = asked
    .toLowerCase()
    .split(/\s+/)
    .filter((word) => word !== "");
  if (words.length === 0) return moments;
  return moments.filter(({ words: said, at_s }) => {
    const time = timeText(at_s);
    return words.every((word) => said.includes(word) || hasPart(time, word));
  });
}

/** Whether a word begins a part of a time as it is shown: its hour or its half of the day. @param {string} time @param {string} word */
export function hasPart(time, word) {
  return time.split(" ").some((part) => part.startsWith(word));
}

/** The nearest instant of a kind after (`way` 1) or before (-1) a time; null where there is none. @param {Moment[]} moments @param {"event" | "alarm"} kind @param {1 | -1} way @param {number} from_s */
export function stepFrom(moments, kind, way, from_s) {
  const times = moments.filter(({ is }) => is === kind).map(({ at_s }) => at_s);
  if (way === 1) return times.find((at_s) => at_s > from_s + SAME_S) ?? null;
  return times.reverse().find((at_s) => at_s < from_s - SAME_S) ?? null;
}

/** The place in the list of the latest moment at or before a time; -1 before the first. @param {Moment[]} moments @param {number} at_s */
export function latestAt(moments, at_s) {
  let [low, high] = [0, moments.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((moments[middle]?.at_s ?? Infinity) <= at_s + SAME_S) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
