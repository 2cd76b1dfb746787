// @ts-check
// Wires the page that pairs: a code from the address is used at once, and leaves the address and its history first.

import "../pages/pair-device.js";
import { codeFromHash, pair, whoAmI } from "../pages/pairing.js";

const page = /** @type {import("../pages/pair-device.js").PairDevice} */ (document.querySelector("pair-device"));
const brought = codeFromHash(location.hash);
if (location.hash) history.replaceState(null, "", location.pathname + location.search);

page.addEventListener("code", (event) => {
  const { code, name } = /** @type {CustomEvent<{code: string, name: string}>} */ (event).detail;
  void tryCode(code, name);
});

if (brought) await tryCode(brought, "");
else page.me = await whoAmI();

/** @param {string} code @param {string} name */
async function tryCode(code, name) {
  page.busy = true;
  const answer = await pair(code, name);
  page.busy = false;
  page.code = code;
  page.wantsName = "wants_name" in answer && answer.wants_name === true;
  page.trouble = "reason" in answer ? answer.reason : "";
  if (!("reason" in answer)) page.me = answer;
}
