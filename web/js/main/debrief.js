// @ts-check
// Wires the debrief: one run, one element.

import "../debrief/debrief-desk.js";
import { runsFromAddress } from "../debrief/debriefs.js";
import { Review } from "../debrief/review.js";
import { choice, choose } from "../booth/kept.js";

const NAME_KEPT = "by";

if (runsFromAddress(location.search).length === 0) location.replace("/library");

const desk = /** @type {import("../debrief/debrief-desk.js").DebriefDesk} */ (document.querySelector("debrief-desk"));
const review = new Review(desk, runsFromAddress(location.search));

/** @template T @param {string} name @param {(detail: T) => void} act */
function on(name, act) {
  desk.addEventListener(name, (event) => act(/** @type {CustomEvent<T>} */ (event).detail));
}

/** @returns {string} */
function placeFromAddress() {
  return location.hash.slice(1) || "watch";
}

function showPlace() {
  desk.place = placeFromAddress();
  if (desk.place === "learn" && desk.lessons === null) void review.learn(desk.runs);
  if (desk.place === "compare" && desk.comparison === null && desk.runs.length > 1) void review.compare(desk.runs);
  if (desk.place === "learn" || desk.place === "compare") void review.list();
}

on("seek", (/** @type {number} */ at_s) => review.jump(at_s));
on("step", (/** @type {{kind: "event" | "alarm", way: 1 | -1}} */ { kind, way }) => review.step(kind, way));
on("play", (/** @type {boolean} */ playing) => (playing ? review.play() : review.pause()));
on("speed", (/** @type {number} */ speed) => review.setSpeed(speed));
on("clock", (/** @type {import("../wire.js").Story["clock"]} */ clock) => void review.setClock(clock));
on("correct", (/** @type {import("../wire.js").Correction} */ correction) => void review.correct(correction));
on("reload", () => void review.load());
on("keep", (/** @type {string} */ address) => void review.keep(address));
on("learn", (/** @type {string[]} */ runs) => void review.learn(runs));
on("compare", (/** @type {string[]} */ runs) => void review.compare(runs));
on("named", (/** @type {string} */ by) => {
  desk.by = by;
  choose(NAME_KEPT, by);
});

desk.by = choice(NAME_KEPT) ?? "";
desk.place = placeFromAddress();
window.addEventListener("hashchange", () => {
  desk.told = "";
  showPlace();
});
await review.open();
showPlace();
