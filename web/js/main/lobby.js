// @ts-check
// Wires the lobby: a feed for each live run, one element.

import "../elements/lobby-desk.js";
import { followRuns } from "../live.js";

followRuns(/** @type {import("../elements/lobby-desk.js").LobbyDesk} */ (document.querySelector("lobby-desk")));
