// @ts-check
// The roll call in words. Pure: what the server says of the contacts goes in, what a person reads comes out.

/**
 * @typedef {import("../wire.js").ContactInput} ContactInput
 * @typedef {import("../wire.js").ContactState} ContactState
 */

const WHAT = { motor: "motor", lamp: "lamp", douser: "douser", cue: "cue detector", failsafe: "failsafe" };

/** What an input tells of. @param {ContactInput} input @param {Map<string, string>} houses by station */
export function inputName(input, houses) {
  return `House ${houses.get(input.station) ?? input.station}, ${WHAT[input.what]}`;
}

/** Its level now. @param {ContactInput} input */
export function levelText({ on }) {
  if (on === null) return "not known";
  return on ? "on" : "off";
}

/** How far the roll call is with it. @param {ContactInput} input */
export function seenText({ seen, closes }) {
  if (seen) return "✓ seen";
  return closes > 0 ? "closed, not opened yet" : "missing";
}

/** What is to be looked at. @param {ContactInput} input @returns {string[]} */
export function remarks({ instead, bounces, edges, bounced_ms, flickers }) {
  const told = instead.map((words) => `The ${words} moved instead: see which wire is which.`);
  if (bounces) told.push(`Bounces: ${edges} edges in ${Math.round(bounced_ms)} ms. See to the contact and its wire.`);
  if (flickers) told.push("Flickers: it changed more often than it can. See to the contact and its wire.");
  return told;
}

/** What to do next. @param {ContactState} state @param {Map<string, string>} houses */
export function nextText(state, houses) {
  const missing = state.inputs.filter(({ seen }) => !seen).length;
  if (!state.on && (missing > 0 || !state.result)) return "No roll call is on.";
  if (!state.on) return state.inputs.some(({ instead }) => instead.length > 0) ? "Every input was seen; one was taken for another." : "Every input was seen.";
  const asked = state.inputs.find(({ id }) => id === state.asked);
  const todo = asked ? `Close ${inputName(asked, houses)} (${asked.id}), and open it again.` : "Close each contact and open it again, in any order.";
  return `${todo} ${missing} to go.`;
}

/** What is wrong beside the inputs. @param {ContactState} state @returns {string[]} */
export function troubles({ feeds, strays }) {
  return [
    ...feeds.filter(({ fault }) => fault !== null).map(({ id, fault }) => `${id}: ${fault}`),
    ...feeds.flatMap((feed) => sampledText(feed)),
    ...strays.map((stray) => `${stray} moved, and the wiring file says nothing of it.`),
  ];
}

const SAME_TICK = 1.25; // a tick that is no longer than this times what the file says is that one. Chosen

/** How seldom a gateway looks at its inputs, where the wiring file does not say so. @param {import("../wire.js").ContactPort} feed @returns {string[]} */
function sampledText({ id, sampling_ms, seen_sampling_ms }) {
  if (seen_sampling_ms === null || seen_sampling_ms <= SAME_TICK * sampling_ms) return [];
  return [`${id}: its contacts change on a tick of about ${seen_sampling_ms} ms. Write sampling_ms = ${seen_sampling_ms} for it in the wiring file.`];
}
