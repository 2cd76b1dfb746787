// @ts-check
// The contacts of a run, asked for again and again, and the orders of a roll call.

/**
 * @typedef {import("../wire.js").ContactState} ContactState
 * @typedef {object} Order
 * @property {"begin" | "begin_in_order" | "ask" | "skip" | "end" | "keep"} do
 * @property {string | null} [input]
 * @property {string | null} [by]
 */

const AGAIN_MS = 300; // between two questions: a contact that is closed is seen to arrive. Chosen
const PATIENCE_MS = 2000; // a server that has not answered by then is not heard. Chosen

const NONE_WIRED = 404; // the answer for a run whose contacts are on no wire here

const UNHEARD = "The server does not say how the contacts stand.";

/** @param {string} run */
function address(run) {
  return `/api/runs/${encodeURIComponent(run)}/contacts`;
}

/** @param {string} path @param {RequestInit} [options] @returns {Promise<ContactState>} throws with what the server says */
async function asked(path, options = {}) {
  const response = await fetch(path, { ...options, signal: AbortSignal.timeout(PATIENCE_MS) });
  const body = await response.json();
  if (!response.ok) throw new Refusal(body.reason ?? `The server answered with ${response.status}.`, response.status);
  return body;
}

/** What the server does not do, in its words. */
export class Refusal extends Error {
  /** @param {string} reason @param {number} status */
  constructor(reason, status) {
    super(reason);
    this.status = status;
  }
}

/**
 * Asks for the contacts for as long as the page is there, and once where the run has none: a server that runs gets no wiring.
 * `told` gets them, or null and the server's reason.
 * @param {string} run @param {(state: ContactState | null, reason: string) => void} told
 */
export async function followContacts(run, told) {
  for (;;) {
    try {
      told(await asked(address(run)), "");
    } catch (error) {
      // What was heard before is not shown on: a contact may have moved since.
      told(null, error instanceof Refusal ? error.message : UNHEARD);
      if (error instanceof Refusal && error.status === NONE_WIRED) return;
    }
    await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
  }
}

/** Gives an order; resolves with how the contacts then stand. @param {string} run @param {Order} wanted */
export async function order(run, wanted) {
  return asked(`${address(run)}/rollcall`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(wanted),
  });
}
