// @ts-check
// Houses, links and alarms as people name them; ids are for machines. The wording is that of server/timeline/naming.py.

import { ALARM_NAMES } from "./kinds.js";

/** @typedef {import("../wire.js").RunInfo} RunInfo */

const MOST_LETTERS = 60; // of houses that are told one by one in a headline: chosen

/** `4`, `4 and 6`, `4, 6 and 7`. @param {string[]} words */
export function listInWords(words) {
  const last = words[words.length - 1] ?? "";
  return words.length > 1 ? `${words.slice(0, -1).join(", ")} and ${last}` : last;
}

/** `House 4`, or `Houses 4, 6 and 7`. @param {string[]} houses their numbers */
export function housesInWords(houses) {
  return `${houses.length === 1 ? "House" : "Houses"} ${listInWords(houses)}`;
}

/** The same where there is little room: every house where `all` of them are told, else as many as have it, and how many more. @param {string[]} houses their numbers @param {number} [all] how many there are */
export function housesBriefly(houses, all = Infinity) {
  const said = housesInWords(houses);
  if (said.length <= MOST_LETTERS || houses.length === 1) return said;
  if (houses.length === all) return "every house";
  let kept = houses.length - 1;
  while (kept > 1 && houses.slice(0, kept).join(", ").length > MOST_LETTERS) kept -= 1;
  return `Houses ${listInWords([...houses.slice(0, kept), `${houses.length - kept} more`])}`;
}

/** A text in two: the place with its colon, and what is to be done there; one without a place is all place. @param {string} text @returns {[string, string]} */
export function placeAndWhat(text) {
  const at = text.indexOf(": ");
  return at < 0 ? [text, ""] : [text.slice(0, at + 1), text.slice(at + 2)];
}

/** The number of a station's house; the id itself where the plan does not have it. @param {RunInfo} info @param {string} station its id */
export function numberOf({ stations }, station) {
  return stations.find(({ id }) => id === station)?.house ?? station;
}

/** `House 4`. @param {RunInfo} info @param {string} station its id */
export function houseName(info, station) {
  return `House ${numberOf(info, station)}`;
}

/** `House 4 to 6`. @param {RunInfo} info @param {string} link its id */
export function linkName(info, link) {
  return `House ${link
    .split(">")
    .map((station) => numberOf(info, station))
    .join(" to ")}`;
}

/** `House 3 to 4`, or `House 3 to 4, 4 to 6 and 6 to 7`. @param {RunInfo} info @param {string[]} links their ids */
export function linksInWords(info, links) {
  return `House ${listInWords(links.map((link) => linkName(info, link).replace("House ", "")))}`;
}

/** What a source of events is called: `contacts east`, `the taps`; a file that is played has no path. @param {string} source */
export function sourceInWords(source) {
  const [kind = "", name = ""] = source.split(/:(.*)/s);
  if (kind === "contact") return name ? `contacts ${name}` : "the contacts";
  if (kind === "recording") return "the recording";
  return kind === "tap" ? "the taps" : kind;
}

/** What an alarm's subject is called: a house, a link, the chain, a source. @param {RunInfo} info @param {string} subject */
export function placeName(info, subject) {
  if (subject === "chain") return "the chain";
  if (info.stations.some(({ id }) => id === subject)) return houseName(info, subject);
  return info.links.some(({ id }) => id === subject) ? linkName(info, subject) : sourceInWords(subject);
}

/** Whom a call is for: `booth North`, or `every booth`. @param {string} to a booth, `all`, or what its alarm is about */
export function boothName(to) {
  return to === "all" || to === "chain" ? "every booth" : `booth ${to}`;
}

/** An alarm by its key: `motor lost, House 5`; what people say is named by whom or where. @param {RunInfo} info @param {string} key */
export function alarmName(info, key) {
  const [kind = "", subject = ""] = key.split(/:(.*)/s);
  if (kind === "call") return `call to ${boothName(subject)}`;
  if (kind === "house_report") return `report from ${placeName(info, subject)}`;
  return `${ALARM_NAMES[kind] ?? kind}, ${placeName(info, subject)}`;
}
