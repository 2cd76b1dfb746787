// @ts-check
// The roll call in words. Pure: what the server says of the contacts goes in, what a person reads comes out.

/**
 * @typedef {import("./messages.js").ContactInput} ContactInput
 * @typedef {import("./messages.js").ContactState} ContactState
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
export function remarks({ instead, bounces, edges, bounced_ms }) {
  const told = instead.map((words) => `The ${words} moved instead: see which wire is which.`);
  return bounces ? [...told, `Bounces: ${edges} edges in ${Math.round(bounced_ms)} ms. See to the contact and its wire.`] : told;
}

/** What to do next. @param {ContactState} state @param {Map<string, string>} houses */
export function nextText(state, houses) {
  const missing = state.inputs.filter(({ seen }) => !seen).length;
  if (!state.on) return missing === 0 && state.result ? "Every input was seen." : "No roll call is on.";
  const asked = state.inputs.find(({ id }) => id === state.asked);
  const todo = asked ? `Close ${inputName(asked, houses)} (${asked.id}), and open it again.` : "Close each contact and open it again, in any order.";
  return `${todo} ${missing} to go.`;
}

/** What is wrong beside the inputs. @param {ContactState} state @returns {string[]} */
export function troubles({ feeds, strays }) {
  return [
    ...feeds.filter(({ fault }) => fault !== null).map(({ id, fault }) => `${id}: ${fault}`),
    ...strays.map((stray) => `${stray} moved, and the wiring file says nothing of it.`),
  ];
}
