// @ts-check
// Wires the overview: server-sent events in, rows out. A page that hears nothing says so.

import "../elements/overview-desk.js";
import { merged, momentText, rowsOf } from "../archive/overview.js";

const LOST_MS = 6000; // the server says something every 2 s: three of those are missing. Chosen
const LOOK_MS = 1000;

const desk = /** @type {import("../elements/overview-desk.js").OverviewDesk} */ (document.querySelector("overview-desk"));
/** @type {ReadonlyMap<string, import("../archive/overview.js").SiteLine | import("../archive/overview.js").RunLine>} */
let known = new Map();
let heard_ms = performance.now();
/** The archive's time when something was last heard. */
let archive_ms = Number.NaN;

function show() {
  const age_ms = performance.now() - heard_ms;
  if (!Number.isNaN(archive_ms)) {
    desk.rows = rowsOf(known, archive_ms + age_ms);
    desk.asOf = momentText(Date.now() - age_ms, Date.now());
  }
  desk.age_s = age_ms > LOST_MS ? age_ms / 1000 : null;
}

const source = new EventSource("/api/overview");
source.onmessage = (/** @type {MessageEvent<string>} */ { data }) => {
  const told = /** @type {import("../archive/overview.js").Message} */ (JSON.parse(data));
  known = merged(known, told);
  heard_ms = performance.now();
  desk.trouble = told.trouble ?? "";
  // While the archive cannot be read its time does not go on: nothing is known by it.
  if (told.now !== null && told.trouble === null) archive_ms = Date.parse(told.now);
  show();
};
window.setInterval(show, LOOK_MS);
