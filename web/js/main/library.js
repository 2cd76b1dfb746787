// @ts-check
// Wires the library: what is asked of the server, and what is done to a run.

import "../debrief/library-desk.js";
import { archive as putAway, debriefAddress, libraryOf, openRecording, remove, whyNot } from "../debrief/debriefs.js";
import { addressFrom, askedFrom, refreshed } from "../debrief/library.js";
import { recordingFrom } from "../debrief/recordings.js";
import { choice, choose } from "../booth/kept.js";

const NAME_KEPT = "by";
const TYPING_MS = 200; // after the last letter, before it is asked for: chosen
const LOOK_MS = 5000; // between two looks at how live runs stand, and how the archive fares: chosen
const COUNTING_MS = 300; // between two questions while alarms are still counted: chosen

const desk = /** @type {import("../debrief/library-desk.js").LibraryDesk} */ (document.querySelector("library-desk"));
let question = 0;
/** Why the last question was not answered, or empty: told until one is. */
let unanswered = "";
/** @type {number | undefined} */
let timer;

/** Asks again; pages that were asked for below the first stay. */
async function look() {
  await ask(false);
}

/** Asks; an answer that another question has overtaken is left. @param {boolean} [afresh] whether all that is shown is put away for it */
async function ask(afresh = true) {
  const own = ++question;
  window.clearTimeout(timer);
  try {
    const { runs, uncounted, archive, sites, following } = await libraryOf(desk.asked);
    if (own !== question) return;
    ({ runs: desk.runs, following: desk.following } = refreshed({ runs: afresh ? null : desk.runs, following: desk.following }, { runs, following }));
    desk.archive = archive;
    desk.sites = sites;
    if (desk.trouble === unanswered) desk.trouble = "";
    unanswered = "";
    if (uncounted > 0) timer = window.setTimeout(look, COUNTING_MS);
    else if (archive !== null || runs.some(({ live }) => live)) timer = window.setTimeout(look, LOOK_MS);
  } catch (error) {
    if (own !== question) return;
    desk.trouble = unanswered = whyNot(error);
    timer = window.setTimeout(() => void ask(afresh), LOOK_MS);
  }
}

/** The next page, below what is shown. */
async function askMore() {
  const own = ++question;
  window.clearTimeout(timer);
  try {
    const { runs, following } = await libraryOf(desk.asked, desk.following ?? "");
    if (own !== question) return;
    desk.runs = [...(desk.runs ?? []), ...runs];
    desk.following = following;
  } catch (error) {
    if (own === question) desk.trouble = unanswered = whyNot(error);
  }
  if (own === question) timer = window.setTimeout(look, LOOK_MS);
}

/** @param {import("../debrief/library.js").Asked} asked */
function askSoon(asked) {
  desk.asked = asked;
  desk.trouble = "";
  history.replaceState(null, "", addressFrom(asked));
  window.clearTimeout(timer);
  timer = window.setTimeout(() => void ask(), TYPING_MS);
}

/** @param {{act: "archive" | "restore" | "remove", run: string, by: string}} what */
async function act({ act: what, run, by }) {
  if (by) {
    desk.by = by;
    choose(NAME_KEPT, by);
  }
  try {
    if (what === "remove") await remove(run);
    else await putAway(run, what === "archive", by);
    desk.told = `${run} ${{ archive: "is put away", restore: "is back in the list", remove: "is removed" }[what]}.`;
    desk.chosen = desk.chosen.filter((each) => each !== run);
    desk.trouble = "";
  } catch (error) {
    desk.told = "";
    desk.trouble = whyNot(error);
  }
  await ask();
}

/** @param {File[]} files */
async function open(files) {
  try {
    const { recording, plan } = await recordingFrom(files);
    const { id } = await openRecording(recording, plan);
    location.assign(debriefAddress([id]));
  } catch (error) {
    desk.dropTrouble = whyNot(error);
  }
}

desk.asked = askedFrom(location.search);
desk.by = choice(NAME_KEPT) ?? "";
desk.addEventListener("ask", (event) => askSoon(/** @type {CustomEvent} */ (event).detail));
desk.addEventListener("more", () => void askMore());
desk.addEventListener("act", (event) => void act(/** @type {CustomEvent} */ (event).detail));
desk.addEventListener("files", (event) => void open(/** @type {CustomEvent<File[]>} */ (event).detail));
await ask();
