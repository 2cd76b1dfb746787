// @ts-check
// The contacts of a run, asked for again and again, and the orders of a roll call.

/**
 * @typedef {import("./messages.js").ContactState} ContactState
 * @typedef {object} Order
 * @property {"begin" | "begin_in_order" | "ask" | "skip" | "end" | "keep"} do
 * @property {string | null} [input]
 * @property {string | null} [by]
 */

const AGAIN_MS = 300; // between two questions: a contact that is closed is seen to arrive. Chosen
const PATIENCE_MS = 2000; // a server that has not answered by then is not heard. Chosen

const UNHEARD = "The server does not say how the contacts stand.";

/** @param {string} run */
function address(run) {
  return `/api/runs/${encodeURIComponent(run)}/contacts`;
}

/** @param {string} path @param {RequestInit} [options] @returns {Promise<ContactState>} throws with what the server says */
async function asked(path, options = {}) {
  const response = await fetch(path, { ...options, signal: AbortSignal.timeout(PATIENCE_MS) });
  const body = await response.json();
  if (!response.ok) throw new Refusal(body.reason ?? `The server answered with ${response.status}.`);
  return body;
}

/** What the server does not do, in its words. */
export class Refusal extends Error {}

/**
 * Asks for the contacts for as long as the page is there; `told` gets them, or null and the server's reason.
 * @param {string} run @param {(state: ContactState | null, reason: string) => void} told
 */
export async function followContacts(run, told) {
  for (;;) {
    try {
      told(await asked(address(run)), "");
    } catch (error) {
      // What was heard before is not shown on: a contact may have moved since.
      told(null, error instanceof Refusal ? error.message : UNHEARD);
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
