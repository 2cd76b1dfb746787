// @ts-check
// Wires the plan desk: the list of plans, or one plan that is changed.

import "../elements/plan-home.js";
import { whyNot } from "../debriefs.js";
import { whoAmI } from "../pairing.js";
import { askedFrom } from "../plan/address.js";
import { beginWith, begunHere, openFile } from "../plan/opening.js";
import { planList } from "../plan/server.js";
import { DeskWiring } from "./plan-desk.js";

const me = await whoAmI();
const looks = me !== null && me.role !== "booth";
const asked = askedFrom(location.search);

async function openHome() {
  const home = /** @type {import("../elements/plan-home.js").PlanHome} */ (document.createElement("plan-home"));
  home.locked = looks;
  home.begun = begunHere();
  home.addEventListener("begin", (event) => beginWith(/** @type {CustomEvent<"empty" | "example">} */ (event).detail));
  home.addEventListener("files", async (event) => (home.trouble = await openFile(/** @type {CustomEvent<File[]>} */ (event).detail)));
  document.body.append(home);
  try {
    home.list = await planList();
  } catch (error) {
    home.trouble = whyNot(error);
  }
}

if (asked === null) await openHome();
else await new DeskWiring(asked, looks, me?.name ?? null).open();
