// @ts-check
// What a desk knows of a run: a snapshot with the numbered changes since.

import { runFrom } from "./views.js";

/**
 * @typedef {import("./messages.js").Snapshot} Snapshot
 * @typedef {import("./messages.js").Change} Change
 * @typedef {import("./messages.js").Beat} Beat
 * @typedef {object} RunState
 * @property {number} seq the last change taken in
 * @property {string} epoch the life of the server that counted it
 * @property {string | null} fault why the run no longer follows its events
 * @property {import("./messages.js").RunInfo} info
 * @property {import("./messages.js").Station[]} stations in film order
 * @property {import("./messages.js").Link[]} links in film order
 * @property {import("./messages.js").Alarm[]} alarms
 * @property {import("./messages.js").Prompt[]} prompts by deadline
 * @property {Record<string, boolean>} sources
 * @property {number} hold_s how much later than planned the first start is to be
 * @property {import("./messages.js").RestartCard | null} restart what has to be so before the chain may start; null while it runs
 * @property {import("./messages.js").HouseReport[]} reports what the houses said, in the order in which they came
 * @property {import("./messages.js").ObservedEvent[]} events the latest, oldest first
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
function stateFromSnapshot({ seq, epoch, fault, info, view, events }) {
  return { seq, epoch, fault, info, ...runFrom(view), events };
}

/** @param {RunState} state @param {Change} change @returns {RunState} */
function changed(state, change) {
  const gone = new Set(change.gone ?? []);
  const event = change.event;
  return {
    ...state,
    seq: change.seq,
    stations: renewed(state.stations, change.stations),
    links: renewed(state.links, change.links),
    alarms: replaced(state.alarms, change.alarms, (alarm) => alarm.key).filter((alarm) => !gone.has(alarm.key)),
    prompts: change.prompts ?? state.prompts,
    sources: change.sources ?? state.sources,
    hold_s: change.hold_s ?? state.hold_s,
    restart: change.restart === undefined ? state.restart : change.restart,
    reports: change.reports ?? state.reports,
    fault: change.fault ?? state.fault,
    events: event ? [...state.events, event].slice(-KEPT_EVENTS) : state.events,
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
 * `items` with those of `fresh` in the places of their namesakes, and new ones at the end.
 * @template T @param {T[]} items @param {T[] | null | undefined} fresh @param {(item: T) => string} key @returns {T[]}
 */
function replaced(items, fresh, key) {
  if (!fresh) return items;
  const byKey = new Map(items.map((item) => [key(item), item]));
  for (const item of fresh) byKey.set(key(item), item);
  return [...byKey.values()];
}
