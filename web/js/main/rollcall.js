// @ts-check
// Wires the roll call: the run's feed for its names and clock, its contacts, one element.

import "../pages/rollcall-desk.js";
import { followContacts, order } from "../pages/contacts.js";
import { followRun } from "../live/follow.js";
import { choice, choose } from "../booth/kept.js";

const LOOK_MS = 1000; // how often this page looks whether its server was started anew. Chosen

const desk = /** @type {import("../pages/rollcall-desk.js").RollcallDesk} */ (document.querySelector("rollcall-desk"));
desk.by = choice("by") ?? "";

const run = await followRun(desk);

/** @param {import("../wire.js").ContactState | null} state @param {string} reason */
function show(state, reason) {
  desk.contacts = state;
  desk.reason = reason;
}

desk.addEventListener("order", async (event) => {
  const { detail } = /** @type {CustomEvent<import("../pages/contacts.js").Order>} */ (event);
  try {
    desk.contacts = await order(run, { ...detail, by: desk.by || null });
    desk.answer = detail.do === "keep" ? "✓ The result is kept with the run." : "";
  } catch (error) {
    desk.answer = error instanceof Error ? error.message : String(error);
  }
});
desk.addEventListener("named", (event) => choose("by", /** @type {CustomEvent<string>} */ (event).detail));

/** The server may be started anew with a wiring file: in each of its lives it is asked. */
async function follow() {
  for (;;) {
    await followContacts(run, show);
    /** @type {string | undefined} */
    let life;
    while (!desk.state || desk.state.epoch === (life ??= desk.state.epoch)) await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
  }
}

void follow();
