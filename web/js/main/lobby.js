// @ts-check
// Wires the lobby: a feed for each live run, one element, what its reader last looked at, and what this device reports.

import "../lobby/lobby-desk.js";
import { looked, memoryAt, noMemory } from "../lobby/changes.js";
import { choice, choose } from "../booth/kept.js";
import { followRuns } from "../live/live.js";
import { houseLines, orderFrom } from "../lobby/lobby.js";
import { whoAmI } from "../pages/pairing.js";
import { steady } from "../live/steady.js";
import { Reporting } from "./lobby-reports.js";

const MOMENT_MS = 1000;
const SEEN_MS = 250; // as often as the runs come: see live.js
const AGAIN_MS = 5000; // between two tries to learn who this device is: chosen

const desk = /** @type {import("../lobby/lobby-desk.js").LobbyDesk} */ (document.querySelector("lobby-desk"));

/** @param {string} name @param {(detail: any) => void} act */
function on(name, act) {
  desk.addEventListener(name, (event) => act(/** @type {CustomEvent} */ (event).detail));
}

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

/** Who this device is for the server, however long that takes to learn. */
async function account() {
  for (;;) {
    const me = await whoAmI();
    if (me) return me;
    await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
  }
}

/** Lets a device report that may. @param {import("../wire.js").Me} me */
function wireReports({ name, role }) {
  desk.role = role;
  if (role === "look") return;
  const reporting = new Reporting(name, () => (desk.mine = reporting.mine()));
  const look = () => reporting.see(desk.runs ?? [], desk.lost);
  /** @param {string} run @param {import("../booth/taps.js").Observation} what */
  const say = (run, what) => {
    look(); // what is shown may be touched before it was looked at
    reporting.say(run, what);
  };
  on("report", ({ run, what }) => say(run, what));
  on("takeback", ({ run, id }) => say(run, { kind: "retract", retracts: id }));
  on("dismiss", ({ run, id }) => reporting.dismiss(run, id));
  setInterval(look, SEEN_MS);
}

desk.order = orderFrom(choice("lobby.order"));
desk.memory = keptMemory();
on("order", (order) => {
  desk.order = order;
  choose("lobby.order", desk.order);
});
on("seen", haveLooked);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") return steady.seen();
  steady.hidden();
  haveLooked();
});
setInterval(() => {
  const lines = houseLines(desk.runs ?? []);
  if (lines.length > 0) desk.memory = memoryAt(desk.memory, lines, steady.now_ms());
}, MOMENT_MS);
followRuns(desk);
wireReports(await account());
