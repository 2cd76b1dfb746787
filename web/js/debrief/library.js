// @ts-check
// The library of runs in words: what is asked of it, and what it says of each run.

import { capital, countInWords, plural } from "../words/format.js";
import { ALARM_NAMES } from "../words/kinds.js";

/**
 * @typedef {import("../wire.js").LibraryRun} LibraryLine
 * @typedef {{from: string, to: string, text: string, plan: string, house: string, trouble: string, archived: string, at: string}} Asked
 */

/** Everything that is not archived. @type {Readonly<Asked>} */
export const ALL = Object.freeze({ from: "", to: "", text: "", plan: "", house: "", trouble: "", archived: "false", at: "" });

/** What the page's address asks for. @param {string} search @returns {Asked} */
export function askedFrom(search) {
  const given = new URLSearchParams(search);
  return /** @type {Asked} */ (Object.fromEntries(Object.entries(ALL).map(([key, value]) => [key, given.get(key) ?? value])));
}

/** The page's address for what is asked: only what differs from everything. @param {Asked} asked */
export function addressFrom(asked) {
  const told = Object.entries(asked).filter(([key, value]) => value !== ALL[/** @type {keyof Asked} */ (key)]);
  return told.length > 0 ? `/library?${new URLSearchParams(told)}` : "/library";
}

/** Whether anything narrows the list. @param {Asked} asked */
export function isNarrowed(asked) {
  return addressFrom(asked) !== "/library";
}

/** The alarms of a run in words, the most frequent first. @param {Record<string, number> | null} trouble */
export function troubleInWords(trouble) {
  if (trouble === null) return "alarms not counted yet";
  const kinds = Object.entries(trouble).filter(([, count]) => count > 0);
  if (kinds.length === 0) return "no alarm";
  kinds.sort(([a, many], [b, few]) => few - many || a.localeCompare(b));
  return kinds.map(([kind, count]) => `${count} × ${ALARM_NAMES[kind] ?? kind}`).join(", ");
}

/** How a run stands that goes on, and how one ended that does not. */
const LIVE_WORDS = { waiting: "not started yet", running: "running now", standing: "standing", over: "over" };
const PAST_WORDS = { waiting: "never started", running: "broken off", standing: "left standing", over: "over" };

/** Of one whose site is not heard of nobody can say how it stands now. */
const HEARD_WORDS = { ...LIVE_WORDS, running: "running" };

/** @param {string} at @param {string} [locale] */
const timeText = (at, locale) => new Intl.DateTimeFormat(locale, { dateStyle: "medium", timeStyle: "medium" }).format(Date.parse(at));

/**
 * That a run is not finished, and up to when it is known here; `look` where nobody can say how it stands now.
 * @param {import("../wire.js").HeardOf | null} heard @param {string} [locale]
 */
export function liveInWords(heard, locale) {
  if (heard === null) return { text: "This run is live: it is shown as far as it has come.", look: false };
  const { last_arrived, at, is_silent } = heard;
  const upTo = last_arrived === null ? "No event of it is here." : `It is shown up to its last event here, of ${timeText(last_arrived, locale)}.`;
  const text = is_silent
    ? `This run was not finished when its site was last heard of, at ${timeText(at, locale)}. ${upTo} What happened there since is not known.`
    : `This run is live at its site and not finished. ${upTo}`;
  return { text, look: is_silent };
}

/** What a run is, each in a word or two: how it stands or ended, and whether it is a drill or damaged. @param {LibraryLine} line @param {string} [locale] @returns {string[]} */
export function stateInWords({ live, silent_since, state, drill, damaged, fault }, locale) {
  const stands =
    state === null
      ? fault === null
        ? "not read yet"
        : ""
      : silent_since
        ? `${HEARD_WORDS[state]} when last heard of, at ${timeText(silent_since, locale)}`
        : (live ? LIVE_WORDS : PAST_WORDS)[state];
  return [stands, drill ? "a drill" : "", damaged ? "damaged" : ""].filter((part) => part !== "");
}

/** The day of a run by the house's calendar. @param {string} day `2026-03-14` @param {string} [locale] */
export function dayText(day, locale) {
  const noon = Date.parse(`${day}T12:00:00Z`);
  if (Number.isNaN(noon)) return day;
  return new Intl.DateTimeFormat(locale, { weekday: "short", day: "numeric", month: "short", year: "numeric", timeZone: "UTC" }).format(noon);
}

/** What the chain was: `nine houses: 3, 1, 2`; empty where its plan cannot be read. @param {LibraryLine} line */
export function housesInWords({ houses }) {
  if (houses.length === 0) return "";
  return `${countInWords(houses.length)} ${plural(houses.length, "house")}: ${houses.join(", ")}`;
}

/**
 * How the archive fares that this log is sent on to: a sentence, and whether somebody should look.
 * @param {import("../wire.js").ArchiveLag} lag @param {string} [locale]
 */
export function archiveInWords({ site, waiting, since, why, notes }, locale) {
  const events = `${waiting} ${plural(waiting, "event")}`;
  const when = since === null ? "" : ` since ${new Intl.DateTimeFormat(locale, { dateStyle: "medium", timeStyle: "medium" }).format(Date.parse(since))}`;
  const all = site === null ? "The archive has not been asked yet." : `The archive has all of ${site}.`;
  const lag = waiting > 0 ? `${events} ${waiting === 1 ? "is" : "are"} on the way to the archive${when}.` : all;
  const stopped = `The archive gets nothing. ${why} ${waiting > 0 ? `${capital(events)} wait${waiting === 1 ? "s" : ""} here${when}, and nothing is lost.` : "Nothing waits for it."}`;
  return { text: [why === null ? lag : stopped, ...notes].join(" "), look: why !== null || notes.length > 0 };
}

/** What is lost when a run is removed. @param {LibraryLine} line */
export function lossInWords({ run, title, day, events }) {
  return (
    `${title ?? run} of ${dayText(day)}: its ${events} ${plural(events, "event")} with every correction and note, and its plan as it was run. ` +
    "What was saved to files before stays where it is. It cannot be brought back."
  );
}

/**
 * The list after its first page was asked for again: that page as it is now, and below it what later pages had shown.
 * @template {{run: string}} Line
 * @param {{runs: Line[] | null, following: string | null}} shown @param {{runs: Line[], following: string | null}} first @returns {{runs: Line[], following: string | null}}
 */
export function refreshed(shown, first) {
  const last = first.runs.at(-1)?.run;
  const place = shown.runs?.findIndex(({ run }) => run === last) ?? -1;
  const below = place < 0 ? [] : (shown.runs ?? []).slice(place + 1);
  if (below.length === 0) return first;
  const again = new Set(first.runs.map(({ run }) => run));
  return { runs: [...first.runs, ...below.filter(({ run }) => !again.has(run))], following: shown.following };
}
