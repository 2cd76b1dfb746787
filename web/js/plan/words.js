// @ts-check
// What the plan desk says of a plan as a whole.

import { capital, countInWords, plural } from "../words/format.js";
import { momentText, planClock, timeText } from "./times.js";

/**
 * @typedef {import("../wire.js").CheckedPlan} CheckedPlan
 * @typedef {{level: "fault" | "warning" | "well", text: string}} Verdict
 * @typedef {{saved_at: string, saved_by: string} | null} Saved null for a plan that was never saved
 */

/** Whether the chain works, in one sentence. @param {CheckedPlan} checked @returns {Verdict} */
export function verdictOf({ values, faults, findings }) {
  if (values === null) return { level: "fault", text: "The text cannot be read as a plan." };
  if (faults.length > 0) return { level: "fault", text: `Not a whole plan yet: ${faults.length} ${plural(faults.length, "thing")} to fill in or mend.` };
  const against = findings.filter(({ level }) => level === "fault").length;
  if (against > 0) return { level: "fault", text: `This chain does not work: ${against} ${plural(against, "thing")} to change.` };
  const doubts = findings.filter(({ level }) => level === "warning").length;
  if (doubts > 0) return { level: "warning", text: `This chain can run, with ${doubts} ${plural(doubts, "thing")} to look at.` };
  return { level: "well", text: "Nothing is found against this chain." };
}

/** What must be threaded, and by when. @param {CheckedPlan} checked */
export function threadingOf({ info, lacing }) {
  if (!info || !lacing) return "";
  const { leader_ft, stretches, crew, minutes, begin_s, ready_s } = lacing;
  const clock = planClock(info);
  const pulled = stretches.length > 1 ? ` in ${countInWords(stretches.length)} stretches` : "";
  const people = capital(`${countInWords(crew)} ${plural(crew, "person", "people")}`);
  const [begin, ready] = [momentText(clock, begin_s), momentText(clock, ready_s)];
  return `Thread ${Math.ceil(leader_ft).toLocaleString("en-US")} ft of leader${pulled}. ${people} ${plural(crew, "takes", "take")} ${Math.ceil(minutes)} minutes: begin by ${begin}, to be ready at ${ready}.`;
}

/** A stretch in words: `House 3 to 5, 308 ft over 36 rollers: hard`. @param {import("../wire.js").PlanStretch} stretch */
export function stretchInWords({ from_house, to_house, path_ft, rollers, effort }) {
  return `House ${from_house} to ${to_house}, ${Math.round(path_ft)} ft over ${rollers} ${plural(rollers, "roller")}: ${effort}`;
}

/** Whether what is on the screen is kept. @param {Saved} saved @param {boolean} changed @param {string} timezone */
export function savedInWords(saved, changed, timezone) {
  if (saved === null) return "Not saved yet";
  return changed ? "Changed since it was saved" : `Saved ${whenInWords(saved.saved_at, timezone)} by ${saved.saved_by}`;
}

/** When something was saved, by the house's clock, with the day where that is not today. @param {string} at @param {string} timezone @param {number} [now_ms] */
export function whenInWords(at, timezone, now_ms = Date.now()) {
  const clock = { zero_ms: now_ms, timezone: timezone || "UTC", locale: "en-GB" };
  try {
    return momentText(clock, (Date.parse(at) - now_ms) / 1000);
  } catch {
    return momentText({ ...clock, timezone: "UTC" }, (Date.parse(at) - now_ms) / 1000);
  }
}

/** When a show of the list starts. @param {import("../wire.js").PlanLine} line */
export function startInWords({ zero, timezone }) {
  if (zero === null) return "";
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "long", year: "numeric", timeZone: timezone }).format(
    Date.parse(zero),
  );
  return `${day.replace(",", "")}, ${timeText({ zero_ms: Date.parse(zero), timezone, locale: "en-GB" }, 0)}`;
}

/** What a dropped file is called, or why it is no plan. Throws one sentence where it is none. @param {Pick<File, "name" | "size" | "text">[]} files @returns {Promise<{name: string, text: string}>} */
export async function planFrom(files) {
  const [file] = files;
  if (!file) throw new Error("Nothing was dropped.");
  if (files.length > 1) throw new Error("One plan at a time: drop a single file.");
  if (/\.jsonl$/i.test(file.name)) throw new Error(`${file.name} is a recording of a show, not a plan: open it in the library.`);
  if (file.size > MOST_BYTES) throw new Error(`${file.name} has ${Math.ceil(file.size / 1000)} kB; a plan has at most ${MOST_BYTES / 1000}.`);
  const text = await file.text();
  if (/[\0\uFFFD]/.test(text)) throw new Error(`${file.name} is no text, so no plan.`);
  if (/^\s*\{/.test(text)) throw new Error(`${file.name} is a recording of a show, not a plan: open it in the library.`);
  if (/^\s*format\s*=\s*"festoon-(site|contacts)\//m.test(text)) throw new Error(`${file.name} is not a plan: its first lines say what it is.`);
  return { name: file.name.replace(/(\.plan)?\.toml$/i, ""), text };
}

const MOST_BYTES = 200_000;

/** What the file of a plan is called when it is handed on. @param {string} name the plan's, empty where it has none yet @param {string} title */
export function fileName(name, title) {
  const plain = title
    .normalize("NFKD")
    .replace(/[\u0300-\u036f']/g, "")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-|-$/g, "");
  return `${name || plain || "plan"}.plan.toml`;
}
