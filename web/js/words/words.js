// @ts-check
// Events in words.

import { capital, dayClockText, houseClock, lengthInWords, slackInWords } from "./format.js";
import { EVENT_KINDS } from "./kinds.js";
import { alarmName, boothName, houseName, linkName } from "./names.js";
import { asksToHold, troubleInWords } from "../lobby/troubles.js";

/** @typedef {import("../wire.js").ObservedEvent} ObservedEvent */
/** @typedef {import("../wire.js").RunInfo} RunInfo */

/** A kind that only a newer server knows is called by its name. @param {import("./kinds.js").EventKind} kind @returns {Pick<import("./kinds.js").EventRow, "words" | "place">} */
function kindOf(kind) {
  return EVENT_KINDS[kind] ?? { words: kind, place: "none" };
}

/** An event as a person says it: `House 5: lamp lit`. @param {ObservedEvent} event @param {RunInfo} info */
export function eventInWords(event, info) {
  const said = whatWasSeen(event, info);
  const place = placeOf(event, info);
  return place === "" ? capital(said) : `${place}: ${said}`;
}

/** Where it was seen or said: a house, the link that feeds it, or the lobby; empty where that is nowhere of this run. @param {ObservedEvent} event @param {RunInfo} info */
function placeOf(event, info) {
  const { kind, station } = event;
  if (asksToHold(event)) return "Lobby";
  const place = info.stations.findIndex(({ id }) => id === station);
  const link = kindOf(kind).place === "link" ? info.links[place - 1] : undefined;
  if (link) return linkName(info, link.id);
  return station && place >= 0 ? houseName(info, station) : "";
}

/** @param {ObservedEvent} event @param {RunInfo} info */
function whatWasSeen(event, info) {
  const { words } = kindOf(event.kind);
  switch (event.kind) {
    case "mark_pass":
      return passInWords(event, info);
    case "slack_read":
      return `${words} ${slackInWords(event.seconds ?? 0)}`;
    case "relaced":
      return `${words}, ${slackInWords(event.seconds ?? 0)}`;
    case "hold":
      return `${words} for ${dayClockText(houseClock(info), event.seconds ?? 0, true)}`;
    case "report":
      return asksToHold(event) ? troubleInWords(event) : `${troubleInWords(event)}, ${words}`;
    case "report_over":
      return overInWords(event);
    case "call":
      return `${words} to ${boothName(event.to ?? "all")}: ${event.text ?? ""}`;
    case "note":
      return `${words}: ${event.text ?? ""}`;
    case "ack":
      return `${words}: ${alarmName(info, event.alarm ?? "")}`;
    case "shelve":
      return `${event.seconds ? `${words} for ${lengthInWords(event.seconds)}` : "no longer shelved"}: ${alarmName(info, event.alarm ?? "")}`;
    case "clock_step":
      return `${words} by ${(event.seconds ?? 0).toFixed(1)} s`;
    default:
      return words;
  }
}

/** A mark that went by; of one at which something is to be done, that it was done. @param {ObservedEvent} event @param {RunInfo} info */
function passInWords({ mark }, { marks }) {
  const known = marks.find(({ id }) => id === mark);
  return known?.kind === "change" ? `${known.title}: done` : `${known?.title ?? mark} ${EVENT_KINDS.mark_pass.words}`;
}

/** What was seen to: one thing that was wrong, or all of it; with what was said of it. @param {ObservedEvent} event */
function overInWords({ what, text }) {
  const { words } = EVENT_KINDS.report_over;
  const said = what ? `${troubleInWords({ what })}: ${words}` : words;
  return text ? `${said} (${text})` : said;
}

/** Who says so: a person, a tap without a name, or a contact. @param {ObservedEvent} event */
export function sourceInWords({ source, by }) {
  const [kind = "", name] = source.split(/:(.*)/);
  if (by && kind === "tap") return `by ${by}, tap`;
  return [by ? `by ${by}` : "", name ? `${kind} ${name}` : kind].filter(Boolean).join(", ");
}
