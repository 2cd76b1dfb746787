// @ts-check
// The restart card in words: what is missing before a chain that stands may start, who has it, and when it is to start.

import { capital, countInWords, countdown, plural, slackInWords } from "../words/format.js";
import { lacingInWords } from "../booth/lacing.js";
import { houseName, housesInWords, linkName, linksInWords, numberOf } from "../words/names.js";
import { asksReady } from "./ready.js";
import { reportOf } from "./steps.js";

/**
 * @typedef {import("../wire.js").RestartCard} RestartCard
 * @typedef {import("../wire.js").RunInfo} RunInfo
 * @typedef {import("../wire.js").StationReady["missing"][number]} Missing
 * @typedef {import("../booth/taps.js").LogLine} LogLine
 * @typedef {import("../booth/taps.js").Observation} Observation
 * @typedef {import("./store.js").RunState} RunState
 * @typedef {{label: string, done: Observation, isSo: boolean, tapped: LogLine | null}} Touch what a station lacked, with the event that says it is so, and that event where it waits to be sent
 * @typedef {{station: string, name: string, booth: string, ready_s: number | null, ready_by: string | null, later: string, touches: Touch[]}} StationRow `later`: what it lacks that nobody is asked for yet
 * @typedef {{station: string, name: string, ready_s: number | null, ready_by: string | null, touch: Touch}} ReadyRow
 * @typedef {object} LinkRow
 * @property {string} link
 * @property {string} station the one that the link feeds: readings are told of it
 * @property {string} name
 * @property {boolean} known whether it was read or laced anew since the stop, and is within its reserve
 * @property {string} said how it is known, and what is assumed
 * @property {string} lacing how much film puts it right, or empty
 * @property {Touch} relaced
 * @typedef {{booth: string, text: string, count: number}} BoothMissing what is missing in one booth; the booth is empty where the plan names none
 */

/** What a station lacks, in the order of harm: light off the film comes first. @type {Record<Missing, {missing: string, label: string, kind: Observation["kind"]}>} */
const MISSING = {
  douser_shut: { missing: "douser not known shut", label: "Douser shut", kind: "douser_shut" },
  lamp_out: { missing: "lamp not out", label: "Lamp out", kind: "lamp_out" },
  lamp_lit: { missing: "lamp not lit", label: "Lamp lit", kind: "lamp_lit" },
  ready: { missing: "not ready", label: "Ready", kind: "ready" },
};

const ORDER = /** @type {Missing[]} */ (Object.keys(MISSING));

/** Of a lamp, while nobody has said when the chain starts. */
const LIT_LATER = "lamp to be lit before the start";

/** What is said of a touch that the server does not know of yet. */
export const WAITS = "waits to be sent";

/** What a touch of Ready says. */
export const READY_MEANS = "laced, loops at rest, failsafe armed, way clear";

/** How many things are missing. @param {RestartCard} card */
export function missingCount({ stations, links }) {
  const ofStations = stations.reduce((sum, { missing }) => sum + missing.length, 0);
  return ofStations + links.filter(({ known, spent }) => known === "none" || spent).length;
}

/** What is missing, houses that lack the same together: `Houses 3 and 4: not ready; House 3 to 4: not read`. @param {RestartCard} card @param {RunInfo} info */
export function missingInWords({ stations, links }, info) {
  /** @type {Map<string, string[]>} */
  const alike = new Map();
  for (const { station, missing } of stations) {
    const lacks = ORDER.filter((what) => missing.includes(what))
      .map((what) => MISSING[what].missing)
      .join(", ");
    if (lacks) alike.set(lacks, [...(alike.get(lacks) ?? []), numberOf(info, station)]);
  }
  const unread = links.filter(({ known }) => known === "none").map(({ link }) => link);
  const spent = links.filter((one) => one.known !== "none" && one.spent).map(({ link }) => link);
  const ofStations = [...alike].map(([lacks, houses]) => `${housesInWords(houses)}: ${lacks}`);
  const ofLinks = /** @type {const} */ ([
    [unread, "not read"],
    [spent, "past the reserve"],
  ]);
  return [...ofStations, ...ofLinks.flatMap(([which, lacks]) => (which.length ? [`${linksInWords(info, which)}: ${lacks}`] : []))].join("; ");
}

/** The same by the booth that has it, in film order. @param {RestartCard} card @param {RunInfo} info @returns {BoothMissing[]} */
export function missingByBooth(card, info) {
  const boothOf = new Map(info.stations.map(({ id, booth }) => [id, booth ?? ""]));
  return [...new Set(boothOf.values())].flatMap((booth) => {
    const part = partOf(card, info, (station) => boothOf.get(station) === booth);
    return missingCount(part) ? [{ booth, text: missingInWords(part, info), count: missingCount(part) }] : [];
  });
}

/** What of a card belongs to some stations: a link belongs to the one it feeds. @param {RestartCard} card @param {RunInfo} info @param {(station: string) => boolean} isOurs @returns {RestartCard} */
export function partOf(card, info, isOurs) {
  return {
    ...card,
    stations: card.stations.filter(({ station }) => isOurs(station)),
    links: card.links.filter(({ link }) => isOurs(fedBy(info, link))),
  };
}

/** The station that a link feeds. @param {RunInfo} info @param {string} link */
function fedBy({ links, stations }, link) {
  return stations[links.findIndex(({ id }) => id === link) + 1]?.id ?? "";
}

/** What can be touched now: nobody lights a lamp for a start that nobody has set. @param {RestartCard} card @param {Missing[]} missing */
function askedNow({ start_s }, missing) {
  return missing.filter((what) => what !== "lamp_lit" || start_s !== null);
}

/** How a touch of a station is remembered. @param {string} station @param {string} kind */
export function touchKey(station, kind) {
  return `${kind} ${station}`;
}

/**
 * A row for each station: what it lacks, each with one touch. What was touched here keeps its place once it is so: nothing moves under a finger.
 * @param {RestartCard} card @param {Set<string>} touched keys of what was touched on this card @param {RunState} state @param {LogLine[]} lines who did what @param {number} now_s @returns {StationRow[]}
 */
export function stationRows(card, touched, { info }, lines, now_s) {
  const touchOf = (/** @type {Missing} */ what, /** @type {string} */ station) =>
    touch(MISSING[what].label, { kind: MISSING[what].kind, station }, info, lines, now_s);
  return card.stations.map(({ station, ready_s, ready_by, missing }) => ({
    station,
    name: houseName(info, station),
    booth: info.stations.find(({ id }) => id === station)?.booth ?? "",
    ready_s,
    ready_by,
    later: card.start_s === null && missing.includes("lamp_lit") ? LIT_LATER : "",
    touches: ORDER.filter((what) => askedNow(card, missing).includes(what) || (!missing.includes(what) && touched.has(touchKey(station, what)))).map(
      (what) => ({
        ...touchOf(what, station),
        isSo: !missing.includes(what),
      }),
    ),
  }));
}

/** A touch for each station by which it is said to be ready. @param {RestartCard} card @param {RunState} state @param {LogLine[]} lines who did what @param {number} now_s @returns {ReadyRow[]} */
export function readyRows({ stations }, { info }, lines, now_s) {
  return stations.map(({ station, ready_s, ready_by }) => ({
    station,
    name: houseName(info, station),
    ready_s,
    ready_by,
    touch: { ...touch(MISSING.ready.label, { kind: MISSING.ready.kind, station }, info, lines, now_s), isSo: ready_s !== null },
  }));
}

/** @param {string} label @param {Observation} done @param {RunInfo} info @param {LogLine[]} lines @param {number} now_s @returns {Touch} */
function touch(label, done, info, lines, now_s) {
  const report = reportOf(done, lines, info, now_s);
  return { label, done, isSo: false, tapped: report?.state === "waiting" ? report : null }; // what was taken and is missing still was not believed
}

/** A row for each link: how it is known, and what is assumed of it. @param {RestartCard} card @param {RunState} state @param {LogLine[]} lines @param {number} now_s @returns {LinkRow[]} */
export function linkRows({ links }, { info }, lines, now_s) {
  return links.map(({ link, known, slack_s, spent }) => {
    const station = fedBy(info, link);
    const reserve_s = info.links.find(({ id }) => id === link)?.reserve_s ?? 0;
    return {
      link,
      station,
      name: linkName(info, link),
      known: known !== "none" && !spent,
      said: `${{ read: `read ${slackInWords(slack_s)}`, relaced: `laced anew, ${slackInWords(slack_s)}`, none: `not read; ${slackInWords(slack_s)} assumed` }[known]}${spent ? ", past the reserve" : ""}`,
      lacing: lacingInWords(info.film, slack_s, reserve_s, false),
      relaced: touch("Laced anew", { kind: "relaced", station }, info, lines, now_s),
    };
  });
}

/**
 * The stations in one line each for those that lack nothing and those whose lamp is lit later: `✓ Houses 3 and 4 ready`.
 * Empty while anything is asked of one of them. @param {RestartCard} card @param {RunInfo} info
 */
export function doneStations(card, info) {
  if (card.stations.some(({ missing }) => askedNow(card, missing).length > 0)) return [];
  const [ready, later] = [true, false].map((isReady) =>
    card.stations.filter(({ missing }) => (missing.length === 0) === isReady).map(({ station }) => numberOf(info, station)),
  );
  return [...(ready?.length ? [`✓ ${housesInWords(ready)} ready`] : []), ...(later?.length ? [`${housesInWords(later)} ready; ${LIT_LATER}`] : [])];
}

/** The links in one line: `✓ House 3 to 4, 4 to 5 read`; empty while one of them is not known or past its reserve. @param {RestartCard} card @param {RunInfo} info */
export function doneLinks({ links }, info) {
  if (links.length === 0 || links.some(({ known, spent }) => known === "none" || spent)) return "";
  const parts = /** @type {const} */ ([
    ["read", "read"],
    ["relaced", "laced anew"],
  ]).flatMap(([how, said]) => {
    const those = links.filter(({ known }) => known === how).map(({ link }) => link);
    return those.length ? [`${linksInWords(info, those)} ${said}`] : [];
  });
  return `✓ ${parts.join("; ")}`;
}

/** What is still to be laced where the links are told in one line: `House 3 to 4: take out 5 frames`. @param {LinkRow[]} rows */
export function lacingLeft(rows) {
  return rows.flatMap(({ name, lacing }) => (lacing ? [`${name}: ${lacing}`] : [])).join("; ");
}

/**
 * How a card stands, in one line, and the time that goes with it: counted down the same on every desk, or up once it is past.
 * @param {RestartCard} card @param {number} now_s @returns {{text: string, time: string, after: string}}
 */
export function standOf(card, now_s) {
  const { before, ready, start_s } = card;
  const count = missingCount(card);
  const missing = `${capital(countInWords(count))} ${plural(count, "thing")} missing`;
  if (start_s === null) return { text: ready ? "Ready: say when it starts" : missing, time: "", after: "" };
  const left_s = start_s - now_s;
  if (!ready && before === "start" && left_s >= 0) return { text: missing, time: "", after: "" }; // the start has its own countdown
  const time = countdown(left_s).replace("+", "");
  if (ready && !asksReady(card)) return left_s >= 0 ? { text: "Starts in", time, after: "" } : { text: "The start was due", time, after: "ago" };
  if (left_s >= 0) return { text: ready ? "Ready: starts in" : `${missing}; start in`, time, after: "" };
  return { text: ready ? "Ready: the start was due" : `${missing}, and the start was due`, time, after: "ago" };
}

/** The same without a countdown: read out, and where the server is away. @param {RestartCard} card @param {number} now_s @param {string} at the time of the start */
export function standAt(card, now_s, at) {
  const { text, time } = standOf(card, now_s);
  return time === "" ? text : `${text.replace(/ in$/, "")} at ${at}`;
}

/** What `hold` says for a start so many minutes from now, to the second. @param {number} now_s @param {number} minutes @returns {Observation} */
export function startIn(now_s, minutes) {
  return { kind: "hold", seconds: Math.round(now_s + minutes * 60) };
}

/** The words on the touch by which the first start is held: one that is past can only be so long from now. @param {number} start_s when it is to be @param {number} minutes @param {number} now_s */
export function holdWords(start_s, minutes, now_s) {
  return `${now_s > start_s ? "Start in" : "Hold"} ${minutes} min`;
}

/**
 * What `hold` says for the first start so many minutes later; one that is past is reckoned from now, to the second.
 * @param {{hold_s: number, start_s: number}} start by how much it is held, and when it is to be @param {number} minutes @param {number} now_s @returns {Observation}
 */
export function holdBy({ hold_s, start_s }, minutes, now_s) {
  const late_s = Math.max(0, Math.round(now_s - start_s));
  return { kind: "hold", seconds: hold_s + late_s + minutes * 60 };
}
