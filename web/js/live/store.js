// @ts-check
// What a desk knows of a run: a snapshot with the numbered changes since.

import { runFrom } from "./views.js";

/**
 * @typedef {import("../wire.js").Snapshot} Snapshot
 * @typedef {import("../wire.js").Change} Change
 * @typedef {import("../wire.js").Beat} Beat
 * @typedef {object} RunState
 * @property {number} seq the last change taken in
 * @property {string} epoch the life of the server that counted it
 * @property {string | null} fault why the run no longer follows its events
 * @property {string[]} warnings what is said of the run beside its alarms: of its log, of the computer's clock
 * @property {import("../wire.js").RunInfo} info
 * @property {import("../wire.js").Station[]} stations in film order
 * @property {import("../wire.js").Link[]} links in film order
 * @property {import("../wire.js").Alarm[]} alarms
 * @property {import("../wire.js").Prompt[]} prompts by deadline
 * @property {Record<string, boolean>} sources
 * @property {number} hold_s how much later than planned the first start is to be
 * @property {import("../wire.js").RestartCard | null} restart what has to be so before the chain may start; null while it runs
 * @property {import("../wire.js").HouseReport[]} reports what the houses said, in the order in which they came
 * @property {import("../wire.js").ObservedEvent[]} events the latest, oldest first
 */

const KEPT_EVENTS = 200; // as many as a snapshot brings

/**
 * The state after one message, or null where a change between was missed and a snapshot has to be asked for.
 * A change that is in the state already leaves it as it is.
 * @param {RunState | null} state
 * @param {Snapshot | Change | Beat} message
 * @returns {RunState | null}
 */
export function stateAfter(state, message) {
  if (message.type === "snapshot") return stateFromSnapshot(message);
  if (state === null) return null;
  if (message.seq <= state.seq) return state;
  if (message.type === "beat" || message.seq > state.seq + 1) return null;
  return changed(state, message);
}

/** @param {Snapshot} snapshot @returns {RunState} */
function stateFromSnapshot({ seq, epoch, fault, warnings, info, view, events }) {
  return { seq, epoch, fault, warnings, info, ...runFrom(view), events };
}

/** @param {RunState} state @param {Change} change @returns {RunState} */
function changed(state, change) {
  return {
    ...state,
    seq: change.seq,
    stations: renewed(state.stations, change.stations),
    links: renewed(state.links, change.links),
    alarms: replaced(state.alarms, change.alarms, change.gone),
    prompts: promptsAfter(state, change),
    sources: change.sources ?? state.sources,
    hold_s: change.hold_s ?? state.hold_s,
    restart: change.restart === undefined ? state.restart : change.restart,
    reports: change.reports ?? state.reports,
    fault: change.fault ?? state.fault,
    warnings: change.warnings ?? state.warnings,
    events: change.events ? [...state.events, ...change.events].slice(-KEPT_EVENTS) : state.events,
  };
}

/**
 * `items` with what is new of each; one of which nothing is told stays the very object it was.
 * @template {{ id: string }} T @param {T[]} items @param {(Partial<T> & { id: string })[] | null | undefined} news @returns {T[]}
 */
function renewed(items, news) {
  if (!news) return items;
  const byId = new Map(news.map((item) => [item.id, item]));
  return items.map((item) => (byId.has(item.id) ? { ...item, ...byId.get(item.id) } : item));
}

/**
 * `items` with what is new of each in its place, new ones at the end, and without those that are gone.
 * @template {{ key: string }} T @param {T[]} items @param {(Partial<T> & { key: string })[] | null | undefined} news
 * @param {string[] | null | undefined} gone @returns {T[]}
 */
function replaced(items, news, gone) {
  if (!news && !gone) return items;
  const byKey = new Map(items.map((item) => [item.key, item]));
  for (const item of news ?? []) byKey.set(item.key, /** @type {T} */ ({ ...byKey.get(item.key), ...item }));
  for (const key of gone ?? []) byKey.delete(key);
  return [...byKey.values()];
}

/** By deadline, those of one deadline in film order, as a snapshot has them. @param {RunState} state @param {Change} change */
function promptsAfter({ prompts, info }, change) {
  const after = replaced(prompts, change.prompts, change.prompts_gone);
  if (after === prompts) return prompts;
  const places = new Map(info.stations.map(({ id }, place) => [id, place]));
  const place = (/** @type {{station: string}} */ { station }) => places.get(station) ?? -1;
  return after.sort((a, b) => a.due_s - b.due_s || place(a) - place(b) || (a.key < b.key ? -1 : 1));
}
