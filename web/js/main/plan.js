// @ts-check
// Wires the plan desk: the list of plans, or one plan that is changed.

import "../plan/plan-home.js";
import { whyNot } from "../debrief/debriefs.js";
import { whoAmI } from "../pages/pairing.js";
import { askedFrom } from "../plan/address.js";
import { beginWith, begunHere, openFile } from "../plan/opening.js";
import { planList, siteList } from "../plan/server.js";
import { DeskWiring } from "./plan-desk.js";
import { SiteDrops } from "./plan-sites.js";

const me = await whoAmI();
const looks = me !== null && me.role !== "booth";
const asked = askedFrom(location.search);

async function openHome() {
  const home = /** @type {import("../plan/plan-home.js").PlanHome} */ (document.createElement("plan-home"));
  home.locked = looks;
  home.begun = begunHere();
  home.addEventListener("begin", (event) => beginWith(/** @type {CustomEvent<"empty" | "example">} */ (event).detail));
  const drops = new SiteDrops(async () => (home.sites = (await siteList()).sites));
  home.addEventListener("files", async (event) => {
    const { detail } = /** @type {CustomEvent<File[]>} */ (event);
    if (!(await drops.take(detail))) home.trouble = await openFile(detail);
  });
  document.body.append(home);
  try {
    home.list = await planList();
    home.sites = (await siteList()).sites;
  } catch (error) {
    home.trouble = whyNot(error);
  }
}

if (asked === null) await openHome();
else await new DeskWiring(asked, looks, me?.name ?? null).open();
