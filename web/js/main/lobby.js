// @ts-check
// Wires the lobby: a feed for each live run, one element, and what its reader last looked at.

import "../elements/lobby-desk.js";
import { looked, memoryAt, noMemory } from "../changes.js";
import { choice, choose } from "../kept.js";
import { followRuns } from "../live.js";
import { houseLines, orderFrom } from "../lobby.js";
import { steady } from "../steady.js";

const MOMENT_MS = 1000;

const desk = /** @type {import("../elements/lobby-desk.js").LobbyDesk} */ (document.querySelector("lobby-desk"));

/** What was kept of the last look; a page that was never looked at has seen what it shows first. */
function keptMemory() {
  try {
    return { ...noMemory(), seen: JSON.parse(choice("lobby.seen") ?? "{}") };
  } catch {
    return noMemory();
  }
}

function haveLooked() {
  const lines = houseLines(desk.runs ?? []);
  if (lines.length === 0 || desk.lost) return;
  desk.memory = looked(lines);
  choose("lobby.seen", JSON.stringify(desk.memory.seen));
}

desk.order = orderFrom(choice("lobby.order"));
desk.memory = keptMemory();
desk.addEventListener("order", (event) => {
  desk.order = /** @type {CustomEvent} */ (event).detail;
  choose("lobby.order", desk.order);
});
desk.addEventListener("seen", haveLooked);
document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && haveLooked());
setInterval(() => {
  const lines = houseLines(desk.runs ?? []);
  if (lines.length > 0) desk.memory = memoryAt(desk.memory, lines, steady.now_ms());
}, MOMENT_MS);
followRuns(desk);
