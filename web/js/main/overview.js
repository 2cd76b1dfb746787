// @ts-check
// Wires the overview: server-sent events in, rows out. A page that hears nothing says so.

import "../archive/overview-desk.js";
import { follow } from "../archive/follow.js";
import { merged, momentText, rowsOf } from "../archive/overview.js";

const LOST_MS = 6000; // the server says something every 2 s: three of those are missing. Chosen
const LOOK_MS = 1000;

const desk = /** @type {import("../archive/overview-desk.js").OverviewDesk} */ (document.querySelector("overview-desk"));
/** @type {ReadonlyMap<string, import("../archive/overview.js").SiteLine | import("../archive/overview.js").RunLine>} */
let known = new Map();
let heard_ms = performance.now();
/** When the archive was last looked at, which a page that is opened while it hangs is told too. */
let looked_ms = heard_ms;
/** The archive's time when something was last heard. */
let archive_ms = Number.NaN;

function show() {
  const now_ms = performance.now();
  const age_ms = now_ms - looked_ms;
  if (!Number.isNaN(archive_ms)) {
    // While the archive cannot be read its time does not go on: nothing is known by it.
    desk.rows = rowsOf(known, archive_ms + (desk.trouble === "" ? age_ms : 0));
    desk.asOf = momentText(Date.now() - age_ms, Date.now());
  }
  const silent_ms = desk.trouble === "" ? age_ms : now_ms - heard_ms;
  desk.age_s = silent_ms > LOST_MS ? silent_ms / 1000 : null;
}

/** @param {MessageEvent<string>} message */
function take({ data }) {
  const told = /** @type {import("../archive/overview.js").Message} */ (JSON.parse(data));
  known = merged(known, told);
  heard_ms = performance.now();
  if (told.age_s !== null) looked_ms = heard_ms - told.age_s * 1000;
  desk.trouble = told.trouble ?? "";
  if (told.now !== null) archive_ms = Date.parse(told.now);
  show();
}

follow("/api/overview", take);
window.setInterval(show, LOOK_MS);
