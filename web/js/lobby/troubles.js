// @ts-check
// What can be wrong in a house, in the words of its people: what is reported there, who has it and when it is over.

import { clockText } from "../words/format.js";
import { HOLD_ASKED, TROUBLES } from "../words/kinds.js";

/**
 * @typedef {import("../wire.js").HouseReport["what"]} Trouble
 * @typedef {import("../wire.js").HouseReport} HouseReport
 * @typedef {import("../booth/taps.js").Observation} Observation
 */

/** What somebody in a booth sees or hears in a house, each one touch: chosen. @type {{label: string, what: Trouble, text?: string}[]} */
export const SEEN_FROM_THE_BOOTH = [
  { label: "Film rubs", what: "other", text: "film rubs" },
  { label: "Picture unsteady", what: "unsteady" },
  { label: "Out of focus", what: "out_of_focus" },
  { label: "No sound", what: "no_sound" },
];

/** What is wrong, as it was said: `no sound (left side)`; of something else its own words. @param {{what?: Trouble | null | undefined, text?: string | null | undefined}} said */
export function troubleInWords({ what, text }) {
  const words = TROUBLES[what ?? "other"];
  if (!text) return words;
  return what === "other" ? text : `${words} (${text})`;
}

/** Whether a report asks for a hold, where nothing is wrong in the house. @param {{what?: Trouble | null | undefined, text?: string | null | undefined}} said */
export function asksToHold({ what, text }) {
  return what === "other" && text === HOLD_ASKED;
}

/** What is wrong in a house and was not seen to. @param {HouseReport[]} reports @param {string} station its id */
export function openAt(reports, station) {
  return reports.filter((report) => report.station === station && report.over_s === null);
}

/** Who has what is wrong in a house; empty where nobody has. @param {HouseReport[]} open */
export function hasIt(open) {
  return open.map(({ acked_by }) => acked_by).find(Boolean) ?? "";
}

/**
 * How each thing that is wrong in a house is said to be over: one touch for each, and where there is one it needs no name.
 * @param {HouseReport[]} open of one house @returns {{label: string, done: Observation}[]}
 */
export function waysToBeOver(open) {
  return open.map((report) => {
    const { station, what } = report;
    const seenTo = open.length > 1 ? `Seen to: ${TROUBLES[what]}` : "Seen to";
    return { label: asksToHold(report) ? "Not held" : seenTo, done: { kind: "report_over", station, what } };
  });
}

/** When something was reported and by whom: `reported at 7:02 by Ida`. @param {HouseReport} report @param {import("../words/format.js").HouseClock} clock */
export function sinceInWords({ since_s, by }, clock) {
  return `reported at ${clockText(clock, since_s)}${by ? ` by ${by}` : ""}`;
}
