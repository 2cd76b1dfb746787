// @ts-check
// Pairing, as a page asks the server for it.

/**
 * @typedef {import("../wire.js").Me} Me
 * @typedef {import("../wire.js").PairingLine} PairingLine
 * @typedef {import("../wire.js").PairingCode} PairingCode
 * @typedef {import("../wire.js").Me["role"]} Role
 * @typedef {{reason: string, wants_name?: boolean}} No why the server did not do it
 */

const WORDLESS = "The server gave no answer: check that it runs and that this device is on its network, then try again.";

/** What each role may do, in the reader's words. @type {Record<Role, string>} */
export const ROLES = {
  booth: "runs the show: taps and changes things",
  look: "only looks: wall and lobby",
  report: "reports from the houses: sees the lobby, says what is wrong",
};

/** The code that the address brings behind its #, or "". @param {string} hash */
export function codeFromHash(hash) {
  try {
    return decodeURIComponent(hash.replace(/^#/, "")).trim();
  } catch {
    return "";
  }
}

/** Who this device is for the server; null where it is not paired. @returns {Promise<Me | null>} */
export async function whoAmI() {
  const answer = await ask("/api/me");
  return "reason" in answer ? null : /** @type {Me} */ (answer);
}

/** @param {string} code @param {string} name "" where the code has one @returns {Promise<Me | No>} */
export async function pair(code, name) {
  return /** @type {Promise<Me | No>} */ (ask("/api/pairing", name ? { code, name } : { code }));
}

/** @param {string} name @param {Role} role @returns {Promise<PairingCode | No>} */
export async function newCode(name, role) {
  return /** @type {Promise<PairingCode | No>} */ (ask("/api/pairings/codes", { name, role }));
}

/** @returns {Promise<PairingLine[] | No>} */
export async function pairings() {
  return /** @type {Promise<PairingLine[] | No>} */ (ask("/api/pairings"));
}

/** @param {string} id @returns {Promise<object | No>} */
export async function withdraw(id) {
  return ask(`/api/pairings/${encodeURIComponent(id)}/withdrawal`, {});
}

/** @param {string} address @param {object} [body] what is posted; without it the address is read @returns {Promise<object | No>} */
async function ask(address, body) {
  const posted = body && { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  try {
    const response = await fetch(address, { ...posted, credentials: "same-origin" });
    const answer = response.status === 204 ? {} : await response.json();
    if (response.ok || typeof answer?.reason === "string") return answer;
  } catch {
    // The sentence below tells it.
  }
  return { reason: WORDLESS };
}
