// @ts-check
// What a person puts right afterwards, as the server takes it.

import { EVENT_KINDS } from "../words/kinds.js";
import { freshId } from "../booth/taps.js";

/**
 * @typedef {import("../words/kinds.js").EventKind} EventKind
 * @typedef {import("../wire.js").Correction} Correction
 * @typedef {import("../wire.js").ArrivedEvent} KnownEvent
 * @typedef {object} Draft what the person filled in
 * @property {"retract" | "move" | "add"} what
 * @property {KnownEvent | null} known the event that is put right, null to add one
 * @property {EventKind} kind of an event that is added
 * @property {string} station
 * @property {string} mark
 * @property {string} text of a note, or what a slack reading showed in seconds
 * @property {number | null} at_s when it happened, null where that is no time
 * @property {"read" | "tap"} as how that time is known: read somewhere, or as somebody would have tapped it
 * @property {number} sigma_s how sure a time is that was read, one standard deviation
 * @property {string} by
 * @property {string} why
 */

/** The kinds that can be added afterwards. */
export const ADDABLE = /** @type {EventKind[]} */ (Object.keys(EVENT_KINDS)).filter((kind) => EVENT_KINDS[kind].debrief === "add");

/** Whether something of a kind needs a house to be added, or the link before it. @param {EventKind} kind */
export function needsHouse(kind) {
  return EVENT_KINDS[kind].place === "station" || EVENT_KINDS[kind].place === "link";
}

/** Whether it needs a key of its own. @param {EventKind} kind @param {"mark" | "seconds" | "text"} key */
export function needs(kind, key) {
  return EVENT_KINDS[kind].keys.includes(key);
}

/** What a kind is called where one is chosen. @param {EventKind} kind */
export function addedWords(kind) {
  const { words, place } = EVENT_KINDS[kind];
  if (place === "link") return `the link before a house was ${words}`;
  return needs(kind, "mark") ? `a mark ${words}` : words;
}

/** The stations that something can be added for: a link's is told of the one it feeds, so never of the first. @param {EventKind} kind @param {import("../wire.js").StationInfo[]} stations */
export function stationsFor(kind, stations) {
  return EVENT_KINDS[kind].place === "link" ? stations.slice(1) : stations;
}

/** Whether an event is something that people or contacts saw of the show, and not what a computer said about itself. @param {KnownEvent} known */
export function isSeen({ event }) {
  return (EVENT_KINDS[event.kind]?.debrief ?? "nothing") !== "nothing";
}

/** Whether an event can be said not to have happened. @param {KnownEvent} known */
export function canRetract(known) {
  return isSeen(known) && known.retracted_by === null;
}

/** Whether an event's time can be put right. @param {KnownEvent} known */
export function canMove(known) {
  return canRetract(known) && EVENT_KINDS[known.event.kind].debrief === "add";
}

/** What is still missing, in words; empty where nothing is. @param {Draft} draft */
export function missingFrom(draft) {
  if (draft.by.trim() === "") return "Say who corrects this: the name is kept with it.";
  if (draft.what === "retract") return "";
  if (draft.at_s === null) return "Give the time on the house's clock, as 19:04:05.";
  if (draft.as === "read" && !(draft.sigma_s > 0)) return "Say how sure the time is: a number of seconds above zero.";
  return draft.what === "add" ? missingFromAdded(draft) : "";
}

/** @param {Draft} draft */
function missingFromAdded({ kind, station, mark, text }) {
  if (needsHouse(kind) && station === "") return "Choose the house.";
  if (needs(kind, "mark") && mark === "") return "Choose the mark.";
  if (needs(kind, "text") && text.trim() === "") return "Write the note.";
  if (needs(kind, "seconds") && !Number.isFinite(secondsRead(text))) return "Give the reading in seconds of film: over is +, under is -.";
  return "";
}

/** @param {string} text */
function secondsRead(text) {
  return text.trim() === "" ? NaN : Number(text.trim().replace(",", ".").replace("−", "-"));
}

/** The correction to send, of a draft with nothing missing. @param {Draft} draft @param {string} zero RFC 3339 @param {string} [id] @returns {Correction} */
export function correctionFrom(draft, zero, id = `c-${freshId()}`) {
  return {
    id,
    by: draft.by.trim(),
    retract: draft.what === "add" ? null : (draft.known?.event.id ?? null),
    add: draft.what === "retract" ? null : addedFrom(draft, zero),
    text: draft.why.trim() || null,
  };
}

/** @param {Draft} draft @param {string} zero @returns {import("../wire.js").AddedEvent} */
function addedFrom(draft, zero) {
  const known = draft.known?.event;
  const t = new Date(Date.parse(zero) + (draft.at_s ?? 0) * 1000).toISOString();
  /** @type {Pick<import("../wire.js").AddedEvent, "source" | "sigma_s">} */
  const how = draft.as === "read" ? { source: "recording:debrief", sigma_s: draft.sigma_s } : { source: "tap:debrief" };
  if (known) return { t, kind: known.kind, ...kept(known), ...how };
  const { kind } = draft;
  return {
    t,
    kind,
    ...(needsHouse(kind) ? { station: draft.station } : {}),
    ...(needs(kind, "mark") ? { mark: draft.mark } : {}),
    ...(needs(kind, "text") ? { text: draft.text.trim() } : {}),
    ...(needs(kind, "seconds") ? { seconds: secondsRead(draft.text) } : {}),
    ...how,
  };
}

/** What an event says beside its time: it stays when that is moved. @param {import("../wire.js").ObservedEvent} event */
function kept({ station, mark, seconds, text }) {
  return Object.fromEntries(Object.entries({ station, mark, seconds, text }).filter(([, value]) => value !== null && value !== undefined));
}
