// @ts-check
// Taps of this desk: made at once, sent when there is a connection, and kept until the server has answered.

import { EVENT_KINDS } from "../words/kinds.js";

/**
 * @typedef {import("../wire.js").ObservedEvent} ObservedEvent
 * @typedef {Omit<ObservedEvent, "id" | "t" | "source">} Observation
 * @typedef {{t_s: number, sigma_s: number}} Instant a time of the run, and one standard deviation of it
 * @typedef {"waiting" | "taken" | "refused"} TapState
 * @typedef {{event: ObservedEvent, state: TapState, reason: string}} Tap
 * @typedef {{event: ObservedEvent, state: TapState | "retracting" | "retracted", reason: string, own: boolean}} LogLine one line of who did what
 */

const BACK_DOUBT = 0.25; // "about five seconds ago" is off by a quarter of it: chosen

/** A random id (RFC 9562, version 4). `randomUUID` is not there on plain http from another computer. @param {Pick<Crypto, "getRandomValues">} [random] */
export function freshId(random = crypto) {
  const bytes = random.getRandomValues(new Uint8Array(16));
  bytes[6] = ((bytes[6] ?? 0) & 0x0f) | 0x40;
  bytes[8] = ((bytes[8] ?? 0) & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/**
 * One tap as an event. @param {Observation} what @param {string} zero RFC 3339 @param {Instant} when
 * @param {string} [id] @returns {ObservedEvent}
 */
export function tapEvent(what, zero, { t_s, sigma_s }, id = freshId()) {
  const t = new Date(Date.parse(zero) + t_s * 1000).toISOString();
  return { id, t, source: "tap", sigma_s: rounded(sigma_s), ...what };
}

/** The same seen `back_s` earlier, about: another event. @param {ObservedEvent} event @param {number} back_s @param {string} [id] @returns {ObservedEvent} */
export function movedBack(event, back_s, id = freshId()) {
  const t = new Date(Date.parse(event.t) - back_s * 1000).toISOString();
  return { ...event, id, t, sigma_s: rounded(Math.hypot(event.sigma_s ?? 0, BACK_DOUBT * back_s)) };
}

/** @param {number} seconds */
function rounded(seconds) {
  return Math.round(seconds * 1000) / 1000;
}

/** Whether a tap is a finger that bounced: the same again at once. After a refusal it is meant. @param {Tap[]} taps @param {ObservedEvent} event @param {number} within_s seconds of the run */
export function isEcho(taps, event, within_s) {
  const tap = taps[taps.length - 1];
  if (!tap || tap.state === "refused") return false;
  const last = tap.event;
  if (Math.abs(Date.parse(event.t) - Date.parse(last.t)) >= within_s * 1000) return false; // what is known of the run's time may go back
  const keys = /** @type {const} */ (["kind", "station", "mark", "seconds", "retracts", "alarm", "what", "to", "text", "by"]);
  return keys.every((key) => event[key] === last[key]);
}

/** @param {Tap[]} taps @param {ObservedEvent} event @returns {Tap[]} */
export function withTap(taps, event) {
  return [...taps, { event, state: "waiting", reason: "" }];
}

/** The taps after the server's answer to one of them; what may be sent again still waits. @param {Tap[]} taps @param {import("../wire.js").TakenAnswer | import("../wire.js").RefusedAnswer} answer @returns {Tap[]} */
export function answered(taps, answer) {
  return taps.map((tap) => {
    if (tap.event.id !== answer.id) return tap;
    if (answer.type === "taken") return { ...tap, state: "taken", reason: "" };
    return { ...tap, state: answer.again ? "waiting" : "refused", reason: answer.reason };
  });
}

/** The taps after an event came by: the answer to it may have been lost with a connection. @param {Tap[]} taps @param {ObservedEvent[]} events @returns {Tap[]} */
export function confirmed(taps, events) {
  const ids = new Set(events.map(({ id }) => id));
  if (!taps.some(({ state, event }) => state === "waiting" && ids.has(event.id))) return taps;
  return taps.map((tap) => (tap.state === "waiting" && ids.has(tap.event.id) ? { ...tap, state: "taken" } : tap));
}

/** What still has to go to the server, in the order of the taps. @param {Tap[]} taps */
export function unsent(taps) {
  return taps.filter(({ state }) => state === "waiting").map(({ event }) => event);
}

/** Alarms that were acknowledged or shelved here and the server does not know of yet; afterwards it says itself how they stand. @param {Tap[]} taps */
export function alarmsAnswered(taps) {
  return new Set(unsent(taps).flatMap(({ alarm }) => alarm ?? []));
}

/**
 * Who did what, latest first: what was tapped, here or at another desk, and what contacts saw. What is being taken back
 * or was says so. @param {Tap[]} taps @param {ObservedEvent[]} events of the run @returns {LogLine[]}
 */
export function logLines(taps, events) {
  const own = new Set(taps.map(({ event }) => event.id));
  const others = events.filter(({ id }) => !own.has(id));
  const all = [...taps, ...others.map((event) => ({ event, state: /** @type {TapState} */ ("taken"), reason: "" }))];
  /** @type {Map<string, Tap>} */
  const takenBack = new Map(all.flatMap((tap) => (tap.event.retracts && tap.state !== "refused" ? [[tap.event.retracts, tap]] : [])));
  return all
    .filter(({ event, state }) => event.kind !== "retract" || state === "refused")
    .sort((a, b) => b.event.t.localeCompare(a.event.t))
    .map((tap) => ({ ...tap, own: own.has(tap.event.id), state: stateOf(tap, takenBack.get(tap.event.id)) }));
}

/** @param {Tap} tap @param {Tap | undefined} retract @returns {LogLine["state"]} */
function stateOf(tap, retract) {
  if (!retract) return tap.state;
  return retract.state === "taken" ? "retracted" : "retracting";
}

/** The line that answers this desk: of the last thing that was tapped here. @param {Tap[]} taps @param {LogLine[]} lines */
export function latestLine(taps, lines) {
  const seen = taps.filter(({ event, state }) => event.kind !== "retract" || state === "refused");
  const last = seen[seen.length - 1];
  return last && lines.find(({ event }) => event.id === last.event.id);
}

/** Whether a line can be taken back or moved: a tap that stands. @param {LogLine} line */
export function isOpen({ event, state }) {
  return isTap(event.source) && (state === "taken" || state === "waiting") && event.kind !== "ack" && event.kind !== "shelve";
}

/** Whether it is what people say, which was never earlier than when they said it. @param {import("../words/kinds.js").EventKind} kind */
export function isSpoken(kind) {
  return !EVENT_KINDS[kind]?.of_film;
}

/** @param {string} source */
export function isTap(source) {
  return source === "tap" || source.startsWith("tap:");
}
