// @ts-check
// Plans, as the plan desk asks the server for them.

import { Refusal } from "../debrief/debriefs.js";
import { faultInWords } from "./sites.js";

/**
 * @typedef {import("../wire.js").CheckedPlan} CheckedPlan
 * @typedef {import("../wire.js").SaveConflict} SaveConflict
 */

const PATIENCE_MS = 30_000; // a long plan takes its time to be gone through, on a busy computer longer: chosen
const LIST_PATIENCE_MS = 8000; // a list is asked for again and again: chosen, under the time between

/** The server has another text by now than the one that was changed. */
export class SavedMeanwhile extends Error {
  /** @param {SaveConflict} theirs */
  constructor(theirs) {
    super(theirs.reason);
    this.theirs = theirs;
  }
}

/** A site of this name is kept already, and is another. */
export class SiteThere extends Error {
  /** @param {import("../wire.js").SiteConflict} there */
  constructor(there) {
    super(there.reason);
    this.there = there;
  }
}

/** @returns {Promise<import("../wire.js").PlanList>} */
export function planList() {
  return asked("/api/plans");
}

/** @returns {Promise<import("../wire.js").PlanUsual>} */
export function usualOfPlans() {
  return asked("/api/plans/usual");
}

/** What a new plan begins with. @param {"empty" | "example"} kind @param {string} zone the time zone of an empty one @returns {Promise<CheckedPlan>} */
export function beginning(kind, zone) {
  return asked(`/api/plans/beginnings/${kind}?${new URLSearchParams({ zone })}`);
}

/** @param {string} name @returns {Promise<import("../wire.js").OpenedPlan>} */
export function planNamed(name) {
  return asked(keptAddress(name));
}

/** A text with edits made in it. @param {string} text @param {NonNullable<import("../wire.js").CheckRequest["edits"]>[number][]} edits @param {boolean} judge whether to ask what speaks against it @param {number | null} crew how many people there are @returns {Promise<CheckedPlan>} */
export function check(text, edits, judge, crew) {
  return asked("/api/plans/check", { text, edits, judge, crew });
}

/** @returns {Promise<import("../wire.js").SiteList>} */
export function siteList() {
  return asked("/api/plans/sites");
}

/** @param {string} name that of its file @returns {Promise<import("../wire.js").SiteInfo>} */
export function siteNamed(name) {
  return asked(`/api/plans/sites/${encodeURIComponent(name)}`);
}

/** Throws SiteThere where another one is there, and a Refusal with all faults. @param {import("../wire.js").NewSite} site @returns {Promise<import("../wire.js").KeptSite>} */
export function keepSite(site) {
  return asked("/api/plans/sites", site);
}

/** @param {string} before @param {string} after @returns {Promise<import("../wire.js").PlanChanges>} */
export function compare(before, after) {
  return asked("/api/plans/compare", { old: before, new: after });
}

/** @param {string} name @returns {Promise<import("../wire.js").PlanVersions>} */
export function versionsOf(name) {
  return asked(`${keptAddress(name)}/versions`);
}

/** @param {import("../wire.js").NewPlan} plan @returns {Promise<import("../wire.js").SavedPlan>} */
export function keepNew(plan) {
  return asked("/api/plans", plan);
}

/** @param {string} name @param {import("../wire.js").ChangedPlan} plan @returns {Promise<import("../wire.js").SavedPlan>} */
export function keep(name, plan) {
  return asked(keptAddress(name), plan);
}

/** The sheets of a plan as it is kept. @param {string} name @param {number | null} crew how many people there are; null where nobody says @returns {Promise<import("../wire.js").SheetList>} */
export function sheetsOf(name, crew) {
  return asked(`${keptAddress(name)}/sheets${crewQuery(crew)}`);
}

/** What is to be laced and checked. @param {string} name @param {number | null} crew how many people lace; null for as many as is usual @returns {Promise<import("../wire.js").ThreadingList>} */
export function threadingOf(name, crew) {
  return asked(`${keptAddress(name)}/threading${crewQuery(crew)}`, undefined, LIST_PATIENCE_MS);
}

/** @param {number | null} crew */
function crewQuery(crew) {
  return crew === null ? "" : `?${new URLSearchParams({ crew: String(crew) })}`;
}

/** @param {string} name */
function keptAddress(name) {
  return `/api/plans/kept/${encodeURIComponent(name)}`;
}

/** @param {string} address @param {object} [body] what is posted; without it the address is read @param {number} [patience_ms] @returns {Promise<any>} */
async function asked(address, body, patience_ms = PATIENCE_MS) {
  const posted = body && { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  const response = await answered(address, posted ?? {}, patience_ms);
  if (response === null) throw new Refusal("No word from the server: is Festoon still running on its computer?", [], 0);
  const { ok, status, answer } = response;
  if (ok) return answer;
  if (status === 409 && typeof answer?.called === "string") throw new SiteThere(answer);
  if (status === 409 && typeof answer?.base === "string") throw new SavedMeanwhile(answer);
  const faults = Array.isArray(answer?.faults) ? answer.faults.map(faultInWords) : [];
  throw new Refusal(typeof answer?.reason === "string" ? answer.reason : `The server answered with ${status}.`, faults, status);
}

/** The whole answer, or null where none comes in time. @param {string} address @param {RequestInit} request @param {number} patience_ms @returns {Promise<{ok: boolean, status: number, answer: any} | null>} */
async function answered(address, request, patience_ms) {
  const giveUp = new AbortController(); // older tablets have no AbortSignal.timeout
  const timer = setTimeout(() => giveUp.abort(), patience_ms);
  try {
    const response = await fetch(address, { ...request, credentials: "same-origin", signal: giveUp.signal });
    return { ok: response.ok, status: response.status, answer: jsonOf(await response.text()) };
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

/** @param {string} text */
function jsonOf(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null; // what stands between, such as a proxy, may answer with a page
  }
}
