// @ts-check
// Which run a page shows, and where the server keeps what belongs to it.

/**
 * @typedef {import("../wire.js").RunLine} RunLine
 * @typedef {{seq: number, epoch: string}} Place the last change heard, and the life of the server that counted it
 * @typedef {Pick<import("../wire.js").ScheduleDocument, "stations">} Schedule
 */

/** The run that the page's address names, or null. @param {string} search */
export function runFromAddress(search) {
  return new URLSearchParams(search).get("run");
}

/** A desk's page for a run. @param {"wall" | "booth" | "rollcall"} desk @param {string} run */
export function deskAddress(desk, run) {
  return `/${desk}?${new URLSearchParams({ run })}`;
}

/** The address of a run's websocket, to go on after a place, or from a snapshot where that is null. @param {string} run @param {Place | null} place @param {{protocol: string, host: string}} page */
export function liveAddress(run, place, page) {
  const scheme = page.protocol === "https:" ? "wss:" : "ws:";
  const resume = place ? `?${new URLSearchParams({ seq: String(place.seq), epoch: place.epoch })}` : "";
  return `${scheme}//${page.host}/api/runs/${encodeURIComponent(run)}/live${resume}`;
}

/** @returns {Promise<RunLine[]>} the live runs; throws where the server gives none */
export async function liveRuns() {
  return answerOf("/api/runs");
}

/** @param {string} run @returns {Promise<Schedule>} */
export async function scheduleOf(run) {
  return answerOf(`/api/runs/${encodeURIComponent(run)}/schedule`);
}

/** The server did not give what it was asked for; `status` says why. */
export class NotGiven extends Error {
  /** @param {string} address @param {number} status */
  constructor(address, status) {
    super(`The server answered ${address} with ${status}.`);
    this.status = status;
  }
}

/** What the server meant by not giving it, or null. @param {unknown} error @returns {import("./connection.js").Refusal | null} */
export function refusalFrom(error) {
  if (!(error instanceof NotGiven)) return null;
  return error.status === 401 ? "unpaired" : error.status === 403 ? "withdrawn" : null;
}

/** @param {string} address */
async function answerOf(address) {
  const response = await fetch(address, { headers: { accept: "application/json" } });
  if (!response.ok) throw new NotGiven(address, response.status);
  return response.json();
}

/** For whom this device is paired; null for nobody by name. Throws where the server does not say. @returns {Promise<string | null>} */
export async function accountName() {
  return (await answerOf("/api/me")).name ?? null;
}
