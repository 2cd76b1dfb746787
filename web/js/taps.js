// @ts-check
// Taps of this desk: made at once, sent when there is a connection, and kept until the server has answered.

/**
 * @typedef {import("./messages.js").ObservedEvent} ObservedEvent
 * @typedef {"waiting" | "taken" | "refused"} TapState
 * @typedef {{event: ObservedEvent, state: TapState, reason: string}} Tap
 * @typedef {{event: ObservedEvent, state: TapState | "retracting" | "retracted", reason: string}} TapLine one line of what was tapped
 */

/** A random id (RFC 9562, version 4). `randomUUID` is not there on plain http from another computer. @param {Pick<Crypto, "getRandomValues">} [random] */
export function freshId(random = crypto) {
  const bytes = random.getRandomValues(new Uint8Array(16));
  bytes[6] = ((bytes[6] ?? 0) & 0x0f) | 0x40;
  bytes[8] = ((bytes[8] ?? 0) & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/**
 * One tap as an event, at the run's time `t_s`. @param {Omit<ObservedEvent, "id" | "t" | "source">} what
 * @param {string} zero RFC 3339 @param {number} t_s @param {string} [id] @returns {ObservedEvent}
 */
export function tapEvent(what, zero, t_s, id = freshId()) {
  return { id, t: new Date(Date.parse(zero) + t_s * 1000).toISOString(), source: "tap", ...what };
}

/** @param {Tap[]} taps @param {ObservedEvent} event @returns {Tap[]} */
export function withTap(taps, event) {
  return [...taps, { event, state: "waiting", reason: "" }];
}

/** The taps after the server's answer to one of them; what may be sent again still waits. @param {Tap[]} taps @param {import("./messages.js").Taken | import("./messages.js").Refused} answer @returns {Tap[]} */
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

/**
 * What was tapped, here or at another desk, latest first; a tap that is being taken back or was says so.
 * @param {Tap[]} taps @param {ObservedEvent[]} events of the run @returns {TapLine[]}
 */
export function tapLines(taps, events) {
  const own = new Set(taps.map(({ event }) => event.id));
  const others = events.filter(({ id, source }) => isTap(source) && !own.has(id));
  const all = [...taps, ...others.map((event) => ({ event, state: /** @type {TapState} */ ("taken"), reason: "" }))];
  /** @type {Map<string, Tap>} */
  const takenBack = new Map(all.flatMap((tap) => (tap.event.retracts && tap.state !== "refused" ? [[tap.event.retracts, tap]] : [])));
  return all
    .filter(({ event, state }) => event.kind !== "retract" || state === "refused")
    .sort((a, b) => b.event.t.localeCompare(a.event.t))
    .map((tap) => lineOf(tap, takenBack.get(tap.event.id)));
}

/** @param {Tap} tap @param {Tap | undefined} retract @returns {TapLine} */
function lineOf(tap, retract) {
  if (!retract) return tap;
  return { ...tap, state: retract.state === "taken" ? "retracted" : "retracting" };
}

/** @param {string} source */
export function isTap(source) {
  return source === "tap" || source.startsWith("tap:");
}
