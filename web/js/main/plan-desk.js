// @ts-check
// Wires one plan: what is changed, undone, kept, compared and handed on.

import "../plan/plan-desk.js";
import { Refusal, whyNot } from "../debrief/debriefs.js";
import { choice, choose } from "../booth/kept.js";
import { partFrom, planAddress } from "../plan/address.js";
import { KnownPaths } from "../plan/chain.js";
import { PlanEditor } from "../plan/editor.js";
import { keepUnsaved, tabShelf, unsavedOf } from "../plan/keeping.js";
import { newKey, openFile } from "../plan/opening.js";
import {
  SavedMeanwhile,
  beginning,
  check,
  compare,
  keep,
  keepNew,
  planNamed,
  sheetsOf,
  siteList,
  siteNamed,
  usualOfPlans,
  versionsOf,
} from "../plan/server.js";
import { crewFrom } from "../plan/sites.js";
import { PlanView } from "../plan/view.js";
import { fileName } from "../plan/words.js";
import { SiteDrops } from "./plan-sites.js";

/**
 * @typedef {import("../wire.js").CheckedPlan} CheckedPlan
 * @typedef {import("../wire.js").SavedPlan} SavedPlan
 * @typedef {NonNullable<import("../plan/address.js").Asked>} Asked
 */

const NAME_KEPT = "by";
const CREW_KEPT = "crew";
const FAULTY = 422; // something that was sent; the text itself was gone through before
const WHY_NAMED = "The name is kept with every version that is saved here.";

export class DeskWiring {
  /** @param {Asked} asked @param {boolean} looks whether this device may change nothing @param {string | null} named whose device this is */
  constructor(asked, looks, named) {
    this.asked = asked;
    this.desk = /** @type {import("../plan/plan-desk.js").PlanDesk} */ (document.createElement("plan-desk"));
    this.desk.looks = looks;
    this.desk.by = named ?? choice(NAME_KEPT) ?? "";
    this.known = new KnownPaths();
    this.desk.known = this.known;
    this.named = named !== null;
    this.name = "plan" in asked ? asked.plan : "";
    this.key = "plan" in asked ? asked.plan : newKey(asked.begin);
    this.tab = tabShelf();
    this.base = "";
    this.savedText = "";
    /** What a file was called that was dropped. */
    this.wanted = "";
    /** @type {import("../wire.js").PlanUsual} */
    this.usual = { values: {}, spreads_s: {}, tolerances_ppm: {} };
    this.desk.crew = crewFrom(choice(CREW_KEPT) ?? "") ?? null;
    /** Names the text of the site file that is known. */
    this.siteBase = "";
    this.drops = new SiteDrops(() => void this.#anotherSite());
    this.editor = new PlanEditor({
      check: (text, edits, judge) => check(text, edits, judge, this.desk.crew),
      wait: (ms) => new Promise((resolve) => setTimeout(resolve, ms)),
      changed: () => this.#show(),
    });
  }

  async open() {
    this.#listen();
    document.body.append(this.desk);
    this.#turn();
    try {
      this.usual = await usualOfPlans();
      this.desk.sites = (await siteList()).sites;
      await ("plan" in this.asked ? this.#openKept(this.asked.plan) : this.#openNew(this.asked.begin));
      // What was opened is judged for no crew.
      if (this.desk.crew !== null && !this.desk.looks) this.editor.checkAnew();
    } catch (error) {
      this.desk.trouble = whyNot(error);
    }
  }

  /** @param {string} name */
  async #openKept(name) {
    const opened = await planNamed(name);
    this.desk.saved = opened;
    this.desk.inUse = opened.in_use;
    this.base = opened.base;
    this.savedText = opened.checked.text;
    const unsaved = unsavedOf(this.tab, this.key);
    this.editor.begin(opened.checked);
    if (unsaved === null || unsaved.text === this.savedText || this.desk.looks) return;
    // What this tab changed may have been changed from an earlier text: saving then says so.
    this.base = unsaved.base || this.base;
    this.editor.write(unsaved.text);
    await this.editor.settled();
    this.editor.notice = "What you had changed and not saved is back. Undo shows what is saved.";
    this.#show();
  }

  /** @param {"empty" | "example" | "file"} kind */
  async #openNew(kind) {
    const unsaved = unsavedOf(this.tab, this.key);
    this.wanted = unsaved?.name ?? "";
    if (unsaved) this.editor.begin(await check(unsaved.text, [], true, this.desk.crew));
    else if (kind === "file") location.replace("/plan");
    else this.editor.begin(await beginning(kind, Intl.DateTimeFormat().resolvedOptions().timeZone));
  }

  #listen() {
    const { desk, editor } = this;
    const on = (/** @type {string} */ name, /** @type {(detail: any) => void} */ act) =>
      desk.addEventListener(name, (event) => act(/** @type {CustomEvent} */ (event).detail));
    on("edit", ({ edits, group }) => editor.edit(edits, group));
    on("follow", ({ make, group }) => editor.follow(() => make(this.#learned()), group));
    on("write", (text) => editor.write(text, "text"));
    on("rest", () => editor.rest());
    on("undo", () => editor.undo());
    on("redo", () => editor.redo());
    on("save", () => this.#save());
    on("who", (answer) => this.#answered(answer));
    on("download", () => this.#download());
    on("restore", (text) => editor.write(text));
    on("compare", (version) => void this.#compare(version));
    on("choose", (which) => void this.#choose(which));
    on("files", async (files) => (await this.drops.take(files)) || this.#say(await openFile(files)));
    on("crew", (crew) => this.#counted(crew));
    desk.addEventListener("keydown", (event) => this.#key(event));
    window.addEventListener("hashchange", () => this.#turn());
    window.addEventListener("beforeunload", (event) => {
      if (!this.desk.changed) return;
      event.preventDefault();
      event.returnValue = true; // browsers before 2023 ask for it
    });
  }

  #view() {
    return new PlanView(/** @type {CheckedPlan} */ (this.editor.checked), this.editor.values, this.usual, this.editor.revision, this.desk.looks);
  }

  /** The plan with its paths learned, before the chain becomes another: not while a name is half typed. */
  #learned() {
    const plan = this.#view();
    this.known.learn(plan);
    return plan;
  }

  /** @param {number | null} crew */
  #counted(crew) {
    this.desk.crew = crew;
    choose(CREW_KEPT, String(crew ?? ""));
    this.editor.checkAnew();
    if (this.desk.place === "sheets") void this.#loadSheets();
  }

  /** A site file was kept: the plan may go by it. */
  async #anotherSite() {
    try {
      this.desk.sites = (await siteList()).sites;
    } catch (error) {
      this.#say(whyNot(error));
    }
    this.editor.checkAnew();
  }

  /** What the plan's site has is asked once it is another. @param {import("../wire.js").TakenSite | null} site */
  async #takeSite(site) {
    const base = site && site.faults === 0 ? site.base : "";
    if (base === this.siteBase) return;
    this.siteBase = base;
    try {
      const found = site && base ? await siteNamed(site.name) : null;
      if (this.siteBase !== base) return;
      this.known.takeSite(found);
      this.desk.site = found;
    } catch (error) {
      this.#say(whyNot(error));
    }
  }

  #show() {
    const { desk, editor } = this;
    const { checked } = editor;
    if (!checked) return;
    void this.#takeSite(checked.site);
    const plan = this.#view();
    desk.plan = plan;
    desk.drawn = editor.drawn;
    desk.saving = editor.saving;
    desk.canUndo = editor.canUndo;
    desk.canRedo = editor.canRedo;
    desk.notice = editor.notice;
    desk.changed = desk.saved === null ? editor.canUndo || this.wanted !== "" : checked.text !== this.savedText;
    keepUnsaved(this.tab, this.key, desk.changed ? { text: checked.text, base: this.base, name: this.wanted } : null);
    document.title = `${plan.text("title") || "Plan"} · Festoon`;
  }

  /** Shows the part that the address asks for. */
  #turn() {
    this.desk.place = partFrom(location.hash);
    if (this.desk.place === "versions") void this.#loadVersions();
    if (this.desk.place === "sheets") void this.#loadSheets();
  }

  async #loadSheets() {
    const { desk } = this;
    const { crew } = desk;
    const sheets = this.name ? await sheetsOf(this.name, crew).catch(whyNot) : null;
    if (crew === desk.crew) desk.sheets = sheets;
  }

  async #loadVersions() {
    const { desk } = this;
    try {
      await this.editor.settled();
      const text = this.editor.checked?.text ?? "";
      desk.changes = this.name && text !== this.savedText && !desk.looks ? (await compare(this.savedText, text)).changes : [];
      desk.versions = this.name ? (await versionsOf(this.name)).versions : [];
    } catch (error) {
      this.#say(whyNot(error));
    }
  }

  /** @param {{number: number, text: string}} version */
  async #compare({ number, text }) {
    try {
      const { changes } = await compare(text, this.editor.checked?.text ?? "");
      this.desk.compared = { number, changes };
    } catch (error) {
      this.#say(whyNot(error));
    }
  }

  /** @param {string} notice */
  #say(notice) {
    this.editor.notice = notice;
    this.#show();
  }

  #save() {
    if (this.desk.looks) return;
    if (!this.named && !this.desk.by) this.#askWho(WHY_NAMED);
    else void this.#keep((plan) => (this.name ? keep(this.name, { ...plan, base: this.base }) : keepNew({ ...plan, name: this.wanted })));
  }

  /** @param {string} text */
  #askWho(text) {
    this.desk.question = { title: "Who saves this plan?", text, yes: "Save it", no: "Not yet", named: true };
  }

  /** @param {{yes: boolean, by: string}} answer */
  #answered({ yes, by }) {
    this.desk.question = null;
    if (!yes) return;
    this.desk.by = by;
    choose(NAME_KEPT, by);
    this.#save();
  }

  /** One at a time. @param {(plan: {text: string, by: string}) => Promise<SavedPlan>} ask */
  async #keep(ask) {
    await this.editor.save(async (text) => {
      try {
        this.#isKept(await ask({ text, by: this.desk.by }), text);
      } catch (error) {
        if (error instanceof SavedMeanwhile) await this.#clashed(error.theirs);
        else this.#isNotKept(error);
      }
    });
  }

  /** @param {unknown} error */
  #isNotKept(error) {
    const status = error instanceof Refusal ? error.status : null;
    const again = this.name ? "Save it again: nothing is kept twice." : "Look whether it is in the list of plans before you save it again.";
    this.#say(status === 0 ? `It is not known whether this is saved. ${whyNot(error)} ${again}` : `This is not saved. ${whyNot(error)}`);
    if (status === FAULTY && !this.named) this.#askWho(`${whyNot(error)} ${WHY_NAMED}`);
  }

  /** @param {SavedPlan} saved @param {string} text */
  #isKept(saved, text) {
    const { desk } = this;
    keepUnsaved(this.tab, this.key, null);
    desk.saved = saved;
    desk.conflict = null;
    desk.inUse = desk.inUse && !saved.copied;
    [this.name, this.key, this.base, this.savedText, this.wanted] = [saved.name, saved.name, saved.base, text, ""];
    history.replaceState(null, "", `${planAddress(saved.name)}${location.hash}`);
    this.#say(saved.copied ? `A live run goes by that plan, so it stays as it was. Yours is saved beside it, as ${saved.name}.plan.toml.` : "");
    if (desk.place === "versions") void this.#loadVersions();
    if (desk.place === "sheets") void this.#loadSheets();
  }

  /** @param {import("../wire.js").SaveConflict} theirs */
  async #clashed(theirs) {
    const { changes } = await compare(theirs.text, this.editor.checked?.text ?? "").catch(() => ({ changes: [] }));
    this.desk.conflict = { ...theirs, changes };
  }

  /** @param {"mine" | "theirs" | "another"} which */
  async #choose(which) {
    const { conflict } = this.desk;
    if (!conflict || this.editor.saving) return;
    if (which === "another") return this.#keep((plan) => keepNew({ ...plan, name: this.name }));
    this.base = conflict.base;
    if (which === "mine") return this.#keep((plan) => keep(this.name, { ...plan, base: this.base }));
    this.savedText = conflict.text;
    this.desk.saved = { saved_at: conflict.saved_at, saved_by: conflict.saved_by };
    this.desk.conflict = null;
    this.editor.write(conflict.text);
  }

  /** Hands on what is on the screen, saved or not. */
  #download() {
    const { checked } = this.editor;
    if (!checked) return;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([checked.text], { type: "application/toml" }));
    link.download = fileName(this.name, this.#view().text("title"));
    link.click();
    URL.revokeObjectURL(link.href);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    const act =
      key === "s"
        ? () => event.repeat || this.#save()
        : key === "z"
          ? () => (event.shiftKey ? this.editor.redo() : this.editor.undo())
          : key === "y"
            ? () => this.editor.redo()
            : null;
    if (!act) return;
    event.preventDefault();
    act();
  }
}
