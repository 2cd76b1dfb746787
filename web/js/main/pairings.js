// @ts-check
// Wires the page of the paired devices: the list, read again now and then, new codes, and withdrawals.

import "../pages/pairing-desk.js";
import { newCode, pairings, withdraw } from "../pages/pairing.js";

const LIST_MS = 3000; // chosen: somebody watches for the device that was just paired

const desk = /** @type {import("../pages/pairing-desk.js").PairingDesk} */ (document.querySelector("pairing-desk"));
/** Why the list is not known, or empty: told until it is. */
let unlisted = "";

desk.addEventListener("wish", async (event) => {
  const { name, role } = /** @type {CustomEvent<{name: string, role: import("../pages/pairing.js").Role}>} */ (event).detail;
  const answer = await newCode(name, role);
  desk.trouble = "reason" in answer ? answer.reason : "";
  desk.code = "reason" in answer ? null : answer;
  desk.done = "";
});
desk.addEventListener("withdraw", async (event) => {
  const answer = await withdraw(/** @type {CustomEvent<string>} */ (event).detail);
  desk.trouble = "reason" in answer ? String(answer.reason) : "";
  await list();
});

async function list() {
  const answer = await pairings();
  if (!Array.isArray(answer)) {
    desk.trouble = unlisted = answer.reason;
    return;
  }
  if (desk.trouble === unlisted) desk.trouble = "";
  unlisted = "";
  const known = new Set(desk.pairings?.map(({ id }) => id));
  const name = desk.code?.name;
  if (desk.pairings && answer.some((pairing) => !known.has(pairing.id) && pairing.name === name)) desk.paired(name ?? "");
  desk.pairings = answer;
}

for (;;) {
  await list();
  await new Promise((resolve) => setTimeout(resolve, LIST_MS));
}
