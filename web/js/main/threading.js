// @ts-check
// Wires the threading list: what the server says of it, what this device keeps of it, and what is ticked off.

import "../threading/threading-desk.js";
import { Awake } from "../pages/awake.js";
import { Refusal, whyNot } from "../debrief/debriefs.js";
import { choice, choose } from "../booth/kept.js";
import { threadingAddress } from "../plan/address.js";
import { planList, threadingOf } from "../plan/server.js";
import { startInWords } from "../plan/words.js";
import { keepShell } from "../pages/shell.js";
import { ASK_MS, Asking } from "../threading/asking.js";
import { deviceShelf, keep, keptAfter, keptNames, keptOf, toggled } from "../threading/keeping.js";

const CLOCK_MS = 5000; // chosen: the clock has no seconds
const UNPAIRED = 401;
const NOT_THERE = 404; // also of a name that is none, which the server takes for another address

const desk = /** @type {import("../threading/threading-desk.js").ThreadingDesk} */ (document.querySelector("threading-desk"));
const shelf = deviceShelf();
const asked = new URLSearchParams(location.search);
const name = asked.get("plan") ?? "";
/** How many people lace, where somebody said so. @type {number | null} */
let crew = Number(asked.get("crew")) || null;

/** @param {string} event @param {(detail: any) => void} act */
function on(event, act) {
  desk.addEventListener(event, (told) => act(/** @type {CustomEvent} */ (told).detail));
}

/** Shows a list and keeps it; an answer that did not come takes no tick with it. @param {import("../threading/keeping.js").KeptList} kept */
function put(kept) {
  desk.kept = kept;
  desk.keeps = keep(shelf, name, kept);
  document.title = `Threading: ${kept.list.title} · Festoon`;
}

/** What this device keeps; where it may keep nothing, what is on the page. */
function known() {
  return (desk.keeps && keptOf(shelf, name)) || desk.kept;
}

const asking = new Asking({
  ask: () => threadingOf(name, crew ?? desk.kept?.list.crew ?? null),
  told: (list) => {
    put(keptAfter(known(), list, Date.now()));
    [desk.lost, desk.refused, desk.unpaired] = [asking.lost, "", false];
  },
  failed: (error) => {
    const status = error instanceof Refusal ? error.status : 0;
    desk.lost = asking.lost;
    desk.refused = status === 0 ? "" : status === NOT_THERE ? "There is no plan of this name here." : whyNot(error);
    desk.unpaired = status === UNPAIRED;
  },
  now_ms: () => Date.now(),
});

/** Asks while somebody can see the list. */
function askIfSeen() {
  if (document.visibilityState === "visible") void asking.again();
}

/** Moves the clock on; whatever is seen without a word from the server says so. */
function tick() {
  desk.device_ms = Date.now();
  if (name !== "" && document.visibilityState === "visible") desk.lost = asking.lost;
}

async function choosePlan() {
  try {
    const { plans } = await planList();
    desk.plans = plans.filter(({ faults }) => faults === 0).map((line) => ({ name: line.name, title: line.title, when: startInWords(line) }));
  } catch (error) {
    desk.lost = error instanceof Refusal && error.status === 0;
    desk.refused = desk.lost ? "" : whyNot(error);
    desk.plans = keptNames(shelf);
  }
}

function wire() {
  on("tick", (key) => {
    const kept = known();
    if (!kept) return;
    put(toggled(kept, key, Date.now() + kept.ahead_ms));
    if (key in (desk.kept?.ticks ?? {})) void desk.showNext("nearest");
  });
  on("seen", () => desk.kept && put({ ...desk.kept, notice: "", changed: [] }));
  on("again", () => desk.kept && put({ ...desk.kept, ticks: {} }));
  on("crew", (people) => {
    crew = people;
    history.replaceState(null, "", threadingAddress(name, people));
    void asking.anew();
  });
  // Another page of this device may have ticked something off.
  addEventListener("storage", () => (desk.kept = keptOf(shelf, name) ?? desk.kept));
  addEventListener("online", () => void asking.again());
  document.addEventListener("visibilitychange", askIfSeen);
  setInterval(askIfSeen, ASK_MS);
}

const awake = new Awake((held) => (desk.awake = held));
desk.name = name;
desk.dark = choice("booth.theme") !== "device";
on("dark", (dark) => {
  desk.dark = dark;
  choose("booth.theme", dark ? "dark" : "device");
});
for (const touch of ["click", "keydown"]) addEventListener(touch, () => void awake.hold(), true);
setInterval(tick, CLOCK_MS);
void awake.hold();
void keepShell((state) => (desk.shell = state), "/threading");

if (name === "") await choosePlan();
else {
  desk.kept = keptOf(shelf, name);
  wire();
  await asking.again();
  if (desk.kept && Object.keys(desk.kept.ticks).length > 0) await desk.showNext("nearest");
}
