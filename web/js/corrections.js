// @ts-check
// What a person puts right afterwards, as the server takes it.

import { freshId } from "./taps.js";

/**
 * @typedef {import("./wire.js").Correction} Correction
 * @typedef {import("./wire.js").ArrivedEvent} KnownEvent
 * @typedef {object} Draft what the person filled in
 * @property {"retract" | "move" | "add"} what
 * @property {KnownEvent | null} known the event that is put right, null to add one
 * @property {string} kind of an event that is added
 * @property {string} station
 * @property {string} mark
 * @property {string} text of a note, or what a slack reading showed in seconds
 * @property {number | null} at_s when it happened, null where that is no time
 * @property {"read" | "tap"} as how that time is known: read somewhere, or as somebody would have tapped it
 * @property {number} sigma_s how sure a time is that was read, one standard deviation
 * @property {string} by
 * @property {string} why
 */

/** The kinds that can be added afterwards, and what each of them needs. @type {Record<string, {station: boolean, mark: boolean, text: "note" | "seconds" | null}>} */
export const ADDABLE = {
  mark_pass: { station: true, mark: true, text: null },
  motor_start: { station: true, mark: false, text: null },
  motor_stop: { station: true, mark: false, text: null },
  lamp_lit: { station: true, mark: false, text: null },
  lamp_out: { station: true, mark: false, text: null },
  douser_open: { station: true, mark: false, text: null },
  douser_shut: { station: true, mark: false, text: null },
  film_trip: { station: true, mark: false, text: null },
  slack_read: { station: true, mark: false, text: "seconds" },
  relaced: { station: true, mark: false, text: "seconds" },
  chain_start: { station: false, mark: false, text: null },
  chain_stop: { station: false, mark: false, text: null },
  note: { station: false, mark: false, text: "note" },
};

const SAID = new Set(["ack", "shelve", "ready", "hold"]); // said for that moment only: taken back, never added or moved

/** The stations that something can be added for: a link's is told of the one it feeds, so never of the first. @param {string} kind @param {import("./wire.js").StationInfo[]} stations */
export function stationsFor(kind, stations) {
  return kind === "slack_read" || kind === "relaced" ? stations.slice(1) : stations;
}

/** Whether an event is something that people or contacts saw of the show, and not what a computer said about itself. @param {KnownEvent} known */
export function isSeen({ event }) {
  return event.kind in ADDABLE || SAID.has(event.kind);
}

/** Whether an event can be said not to have happened. @param {KnownEvent} known */
export function canRetract(known) {
  return isSeen(known) && known.retracted_by === null;
}

/** Whether an event's time can be put right. @param {KnownEvent} known */
export function canMove(known) {
  return canRetract(known) && known.event.kind in ADDABLE;
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
  const needs = ADDABLE[kind];
  if (!needs) return "Choose what happened.";
  if (needs.station && station === "") return "Choose the house.";
  if (needs.mark && mark === "") return "Choose the mark.";
  if (needs.text === "note" && text.trim() === "") return "Write the note.";
  if (needs.text === "seconds" && !Number.isFinite(secondsRead(text))) return "Give the reading in seconds of film: over is +, under is -.";
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

/** @param {Draft} draft @param {string} zero @returns {import("./wire.js").AddedEvent} */
function addedFrom(draft, zero) {
  const known = draft.known?.event;
  const t = new Date(Date.parse(zero) + (draft.at_s ?? 0) * 1000).toISOString();
  /** @type {Pick<import("./wire.js").AddedEvent, "source" | "sigma_s">} */
  const how = draft.as === "read" ? { source: "recording:debrief", sigma_s: draft.sigma_s } : { source: "tap:debrief" };
  if (known) return { t, kind: known.kind, ...kept(known), ...how };
  const needs = ADDABLE[draft.kind];
  return {
    t,
    kind: draft.kind,
    ...(needs?.station ? { station: draft.station } : {}),
    ...(needs?.mark ? { mark: draft.mark } : {}),
    ...(needs?.text === "note" ? { text: draft.text.trim() } : {}),
    ...(needs?.text === "seconds" ? { seconds: secondsRead(draft.text) } : {}),
    ...how,
  };
}

/** What an event says beside its time: it stays when that is moved. @param {import("./wire.js").ObservedEvent} event */
function kept({ station, mark, seconds, text }) {
  return Object.fromEntries(Object.entries({ station, mark, seconds, text }).filter(([, value]) => value !== null && value !== undefined));
}
