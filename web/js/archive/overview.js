// @ts-check
// Every live run of every site, worst first: what is wrong there, and when it was last heard of.

import { capital, plural } from "../words/format.js";

/**
 * @typedef {"act" | "watch" | "note"} Level
 * @typedef {{
 *   format: number, title: string, timezone: string, demo: boolean, state: string, fault: string | null, warnings: string[],
 *   stations: {house: string, phase: string}[], alarms: Record<Level, number>,
 *   worst: {level: Level, text: string, todo: string}[],
 *   light: string[], spent: string[], dark: string[], stands: string[],
 * }} Picture  how a live run stands, as its site told it last
 * @typedef {{site: string, url: string, heard: string | null, waiting: number}} SiteLine
 * @typedef {{run: string, site: string, local: string, picture: Picture}} RunLine
 * @typedef {{type: "all" | "change", now: string | null, age_s: number | null, lines: Record<string, SiteLine | RunLine>, gone: string[], trouble: string | null}} Message
 * @typedef {{key: string, site: string, title: string, wall: string, level: Level | "", state: string, wrong: string[], todo: string, silent: string, rank: number, isQuiet: boolean}} Row  isQuiet: it asks nobody to do anything, or only says that no run is known
 */

const FORMAT = 1; // of a picture: server/archive/picture.py

export const SILENT_S = 20; // a site says every 5 s that it is there: four of those are missing. Chosen

/** What was known with what was told now. @param {ReadonlyMap<string, SiteLine | RunLine>} known @param {Message} told */
export function merged(known, { type, lines, gone }) {
  const now = type === "all" ? new Map() : new Map(known);
  for (const [key, line] of Object.entries(lines)) now.set(key, line);
  for (const key of gone) now.delete(key);
  return /** @type {ReadonlyMap<string, SiteLine | RunLine>} */ (now);
}

/**
 * The live runs, worst first, and after them the sites without one.
 * @param {ReadonlyMap<string, SiteLine | RunLine>} known @param {number} now_ms by the archive's clock @returns {Row[]}
 */
export function rowsOf(known, now_ms) {
  const lines = [...known.entries()];
  /** @type {Map<string, SiteLine>} */
  const sites = new Map();
  for (const [, line] of lines) if (!("picture" in line)) sites.set(line.site, line);
  /** @type {Row[]} */
  const rows = [];
  for (const [key, line] of lines) {
    const site = sites.get(line.site);
    if (!site) continue;
    try {
      if ("picture" in line) rows.push(runRow(key, line, site, now_ms));
      else if (!lines.some(([, other]) => "picture" in other && other.site === line.site)) rows.push(siteRow(key, line, now_ms));
    } catch {
      rows.push(unreadRow(key, site));
    }
  }
  return rows.sort(
    (one, other) => one.rank - other.rank || one.site.localeCompare(other.site, undefined, { numeric: true }) || one.title.localeCompare(other.title),
  );
}

/** @param {string} key @param {RunLine} line @param {SiteLine} site @param {number} now_ms @returns {Row} */
function runRow(key, { local, picture: told }, site, now_ms) {
  if (told.format !== FORMAT) return unreadRow(key, site);
  const picture = pictureOf(told);
  const silent = silentSince(site, now_ms);
  const { level, rank, wrong } = worstOf(picture);
  return {
    key,
    site: site.site,
    title: picture.title || UNTOLD.title,
    wall: `${site.url}/wall?run=${encodeURIComponent(local)}`,
    level,
    // What is told of a run that is not heard of is as it was then.
    state: capital(`${silent ? "then " : ""}${picture.demo ? "a drill, " : ""}${stateInWords(picture)}`),
    wrong,
    todo: picture.worst[0]?.todo ?? "",
    silent,
    // Of a run that is not heard of nobody can say that it is well.
    rank: silent ? Math.min(rank, SILENT_RANK) : rank,
    isQuiet: !silent && wrong.length === 0 && (level === "" || level === "note"),
  };
}

/** What this page cannot read hides nothing else. @param {string} key @param {SiteLine} site @returns {Row} */
function unreadRow(key, { site, url }) {
  const wrong = ["Its Festoon tells how this run stands in another way: look at its own server."];
  return { key, site, title: "A run", wall: url, level: "watch", state: "Not known here", wrong, todo: "", silent: "", rank: SILENT_RANK, isQuiet: false };
}

/** @param {string} key @param {SiteLine} line @param {number} now_ms @returns {Row} */
function siteRow(key, line, now_ms) {
  const silent = line.heard === null ? "Never heard of" : silentSince(line, now_ms);
  return { key, site: line.site, title: "", wall: line.url, level: "", state: "No live run", wrong: [], todo: "", silent, rank: NO_RUN_RANK, isQuiet: true };
}

/** @type {Picture} */
const UNTOLD = {
  ...{ format: FORMAT, title: "A run", timezone: "UTC", demo: false, state: "", fault: null, warnings: [], stations: [], worst: [] },
  ...{ alarms: { act: 0, watch: 0, note: 0 }, light: [], spent: [], dark: [], stands: [] },
};

/** What a site told, each part as it should be: one site's other program must not hide the other sites. @param {Record<string, any>} told @returns {Picture} */
function pictureOf(told) {
  /** @type {Record<string, any>} */
  const picture = { ...UNTOLD };
  for (const [key, usual] of Object.entries(UNTOLD)) {
    const value = told[key];
    if (usual === null ? typeof value === "string" : typeof value === typeof usual && Array.isArray(value) === Array.isArray(usual) && value !== null) {
      picture[key] = value;
    }
  }
  for (const key of ["stations", "worst"]) picture[key] = picture[key].filter((/** @type {unknown} */ one) => typeof one === "object" && one !== null);
  return /** @type {Picture} */ (picture);
}

const SILENT_RANK = 6;
const NO_RUN_RANK = 20;
const QUIET_RANKS = 4;

/** The worst of a run: its level, its place in the order, and what is wrong. @param {Picture} picture @returns {{level: Level | "", rank: number, wrong: string[]}} */
function worstOf(picture) {
  const { light, spent, dark, stands, fault, alarms, worst, warnings } = picture;
  /** @type {[string[], string][]} */
  const kinds = [
    [light, "Film in the light"],
    [spent, "Reserve spent"],
    [dark, "Dark gate"],
    [stands, "Film stands"],
  ];
  const wrong = kinds.filter(([places]) => places.length > 0).map(([places, what]) => `${what}: ${places.join(", ")}`);
  const first = kinds.findIndex(([places]) => places.length > 0);
  if (wrong.length === 0 && worst.length > 0) wrong.push(...worst.map(({ text }) => text));
  if (fault !== null) wrong.push(fault);
  wrong.push(...warnings);
  if (first >= 0) return { level: "act", rank: first, wrong };
  if (fault !== null) return { level: "act", rank: 4, wrong };
  if (alarms.act > 0) return { level: "act", rank: 5, wrong };
  if (alarms.watch > 0 || warnings.length > 0) return { level: "watch", rank: 7, wrong };
  // What has something to say stands before all that has not.
  return { level: alarms.note > 0 ? "note" : "", rank: (STATE_RANK[picture.state] ?? 11) + (wrong.length > 0 ? 0 : QUIET_RANKS), wrong };
}

/** @type {Record<string, number>} */
const STATE_RANK = { standing: 8, running: 9, waiting: 10, over: 11 };

/** @param {Picture} picture */
function stateInWords({ state, stations }) {
  const showing = stations.filter(({ phase }) => phase === "showing").length;
  if (state === "running") return `running, on screen in ${showing} of ${stations.length} ${plural(stations.length, "house")}`;
  return { waiting: "not started yet", standing: "all film stands", over: "over" }[state] ?? state;
}

/** Since when a site was not heard of, in words; empty where it is heard. @param {SiteLine} site @param {number} now_ms */
function silentSince({ heard }, now_ms) {
  if (heard === null) return "Never heard of";
  const heard_ms = Date.parse(heard);
  return now_ms - heard_ms < SILENT_S * 1000 ? "" : `Not heard of since ${momentText(heard_ms, now_ms)}`;
}

/** A moment on this reader's own clock, with its day where that is another. @param {number} at_ms @param {number} now_ms @param {string} [locale] */
export function momentText(at_ms, now_ms, locale) {
  const isToday = new Date(at_ms).toDateString() === new Date(now_ms).toDateString();
  return new Intl.DateTimeFormat(locale, isToday ? { timeStyle: "medium" } : { dateStyle: "medium", timeStyle: "medium" }).format(at_ms);
}

/** What all of it comes to, for the headline. @param {Row[]} rows */
export function countInWords(rows) {
  const runs = rows.filter(({ title }) => title !== "");
  const bad = runs.filter(({ level }) => level === "act").length;
  const silent = new Set(rows.filter(({ silent: words }) => words !== "").map(({ site }) => site)).size;
  const sites = new Set(rows.map(({ site }) => site)).size;
  const unknown = `Nothing is known of ${silent} of ${sites} ${plural(sites, "site")}`;
  return [
    bad > 0
      ? `${bad} ${bad === 1 ? "run needs" : "runs need"} somebody now`
      : silent > 0
        ? unknown
        : runs.length > 0
          ? "No run needs somebody now"
          : "No site has a live run",
    bad > 0 && silent > 0 ? unknown : "",
    `${runs.length} live ${plural(runs.length, "run")} of ${sites} ${plural(sites, "site")}`,
  ].filter((part) => part !== "");
}
