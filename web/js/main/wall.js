// @ts-check
// Wires the wall: one feed, one element.

import "../wall/wall-desk.js";
import { followRun } from "../live/follow.js";

void followRun(/** @type {import("../wall/wall-desk.js").WallDesk} */ (document.querySelector("wall-desk")));
