// @ts-check
// Wires the way in: the wall of the only live run, else the list of runs with a feed for each.

import "../pages/run-chooser.js";
import { followRuns } from "../live/live.js";
import { deskAddress, liveRuns } from "../live/runs.js";

const runs = await liveRuns().catch(() => []);
const [only] = runs;

if (only && runs.length === 1) location.replace(deskAddress("wall", only.run));
else followRuns(/** @type {import("../pages/run-chooser.js").RunChooser} */ (document.querySelector("run-chooser")));
