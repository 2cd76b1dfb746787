// @ts-check
// Wires the wall: one feed, one element.

import "../elements/wall-desk.js";
import { followRun } from "../follow.js";

const desk = /** @type {import("../elements/wall-desk.js").WallDesk} */ (document.querySelector("wall-desk"));

followRun(desk);
