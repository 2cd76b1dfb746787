// @ts-check
// Wires site files that are dropped on a page of the plan desk: checked, kept, and replaced only after a question.

import "../plan/plan-site-told.js";
import { Refusal, whyNot } from "../debrief/debriefs.js";
import { SiteThere, keepSite } from "../plan/server.js";
import { siteFrom } from "../plan/sites.js";

export class SiteDrops {
  /** @param {() => void} kept called when there is another site than before */
  constructor(kept) {
    this.kept = kept;
    this.told = /** @type {import("../plan/plan-site-told.js").PlanSiteTold} */ (document.createElement("plan-site-told"));
    /** The site that is asked about. @type {{text: string, base: string} | null} */
    this.asked = null;
    this.told.addEventListener("answer", (event) => this.#answered(/** @type {CustomEvent<boolean>} */ (event).detail));
    document.body.append(this.told);
  }

  /** Keeps what was dropped, where it is a site file; else says no. @param {File[]} files */
  async take(files) {
    try {
      const site = await siteFrom(files);
      if (site === null) return false;
      await this.#keep(site.text, "");
    } catch (error) {
      this.#say("This site file is not kept", whyNot(error));
    }
    return true;
  }

  /** @param {string} text @param {string} base */
  async #keep(text, base) {
    try {
      const { name, called, changed } = await keepSite({ text, base });
      if (changed) this.kept();
      const where = `sites/${name}.site.toml`;
      this.#say(changed ? "The site file is kept" : "This site file is here already", `It is ${where}. A plan whose site is ${called} takes it.`);
    } catch (error) {
      if (error instanceof SiteThere) this.#ask(text, error.there);
      else {
        this.#say(
          "This site file is not kept",
          error instanceof Refusal && error.faults.length ? "Mend this in an editor, and drop it again:" : whyNot(error),
          error instanceof Refusal ? error.faults : [],
        );
      }
    }
  }

  /** @param {string} text @param {import("../wire.js").SiteConflict} there */
  #ask(text, { name, called, base }) {
    this.asked = { text, base };
    this.told.told = {
      title: `Replace the site file of ${called}?`,
      text: `sites/${name}.site.toml is another text than this one. It would be lost: copy it first, if somebody measured or learned something in it.`,
      faults: [],
      yes: "Replace it",
      no: "Keep what is there",
    };
  }

  /** @param {boolean} yes */
  #answered(yes) {
    const { asked } = this;
    this.asked = null;
    if (yes && asked) void this.#keep(asked.text, asked.base);
  }

  /** @param {string} title @param {string} text @param {string[]} [faults] */
  #say(title, text, faults = []) {
    this.told.told = { title, text, faults, yes: "", no: "Close" };
  }
}
