// @ts-check
// What the server keeps of runs that are over, and how a page asks for it. Every refusal becomes a Refusal with the server's own sentence.

/**
 * @typedef {import("../wire.js").DebriefInfo} Debrief
 * @typedef {import("../wire.js").Story["clock"]} KnownClock
 */

/** What the server said against it: one sentence, and one line for each fault of a plan. */
export class Refusal extends Error {
  /** @param {string} reason @param {string[]} faults @param {number} status */
  constructor(reason, faults, status) {
    super(reason);
    this.faults = faults;
    this.status = status;
  }
}

/** The runs that a page's address names, in order; the first is the one that is gone through. @param {string} search */
export function runsFromAddress(search) {
  return [...new Set(new URLSearchParams(search).getAll("run").filter((run) => run !== ""))];
}

/** The page that goes through runs, opened at one of its parts. @param {string[]} runs @param {string} [part] */
export function debriefAddress(runs, part = "") {
  return `/debrief?${runQuery(runs)}${part ? `#${part}` : ""}`;
}

/** @param {string[]} runs @param {Record<string, string>} [more] */
function runQuery(runs, more = {}) {
  return new URLSearchParams([...runs.map((run) => ["run", run]), ...Object.entries(more)]).toString();
}

/** @param {string} run */
function base(run) {
  return `/api/debriefs/${encodeURIComponent(run)}`;
}

/** What there is of a run at once, before it is gone through. @param {string} run @returns {Promise<import("../wire.js").FirstLook>} */
export function firstLookOf(run) {
  return answerOf(`/api/library/${encodeURIComponent(run)}/first`);
}

/** What happened; as it is known now the server keeps it. @param {string} run @param {KnownClock} clock @returns {Promise<import("../wire.js").Story>} */
export function storyOf(run, clock) {
  return answerOf(clock === "now" ? `/api/library/${encodeURIComponent(run)}/story` : `${base(run)}/story?${new URLSearchParams({ clock })}`);
}

/** @param {string} run @returns {Promise<Debrief>} */
export function debriefOf(run) {
  return answerOf(base(run));
}

/** @param {string} run @param {number} at_s @param {KnownClock} clock @returns {Promise<import("../wire.js").StateAt>} */
export function stateAt(run, at_s, clock) {
  return answerOf(`${base(run)}/state?${new URLSearchParams({ at_s: String(at_s), clock })}`);
}

/** @param {string} run @param {KnownClock} clock @returns {Promise<import("../wire.js").Series>} */
export function seriesOf(run, clock) {
  return answerOf(`${base(run)}/series?${new URLSearchParams({ clock, points: "600" })}`);
}

/** @param {string} run @returns {Promise<import("../wire.js").EventList>} */
export function eventsOf(run) {
  return answerOf(`${base(run)}/events`);
}

/** @param {string} run @param {KnownClock} clock @returns {Promise<import("../wire.js").TableList>} */
export function tablesOf(run, clock) {
  return answerOf(`${base(run)}/tables?${new URLSearchParams({ clock })}`);
}

/** Where a file of a run is had from; `name` is what the address ends with. @param {string} run @param {string} name @param {KnownClock} [clock] */
export function fileAddress(run, name, clock) {
  return `${base(run)}/${name}${clock ? `?${new URLSearchParams({ clock })}` : ""}`;
}

/** @param {string} run @param {import("../wire.js").Correction} correction @returns {Promise<import("../wire.js").Corrected>} */
export function correct(run, correction) {
  return answerOf(`${base(run)}/corrections`, sending("POST", correction));
}

/** @param {string[]} runs @returns {Promise<import("../wire.js").LessonList>} */
export function lessonsOf(runs) {
  return answerOf(`/api/lessons?${runQuery(runs)}`);
}

/** Where the corrected plan is had from. @param {string[]} runs @param {string} name */
export function planAddress(runs, name) {
  return `/api/lessons/plan?${runQuery(runs, { name })}`;
}

/** @param {string[]} runs @returns {Promise<import("../wire.js").Comparison>} */
export function comparisonOf(runs) {
  return answerOf(`/api/comparison?${runQuery(runs, { points: "400" })}`);
}

/** @param {Record<string, string>} asked @returns {Promise<import("../wire.js").Library>} */
export function libraryOf(asked, after = "") {
  const query = new URLSearchParams(Object.entries({ ...asked, after }).filter(([, value]) => value !== ""));
  return answerOf(`/api/library?${query}`);
}

/** @param {string} run @param {boolean} archived false brings it back @param {string} by @returns {Promise<import("../wire.js").LibraryRun>} */
export function archive(run, archived, by) {
  return answerOf(`/api/library/${encodeURIComponent(run)}/archive`, sending("POST", { archived, by }));
}

/** Gone for good. @param {string} run */
export async function remove(run) {
  await answerOf(`/api/library/${encodeURIComponent(run)}/remove`, sending("POST", { yes: true }));
}

/** @param {{name: string, text: string}} recording @param {{name: string, text: string} | null} plan @returns {Promise<import("../wire.js").Dropped>} */
export function openRecording(recording, plan) {
  return answerOf("/api/recordings", sending("POST", { recording, plan }));
}

/** A file whose making may be refused, and the name that the server gives it. @param {string} address @returns {Promise<{name: string, file: Blob}>} */
export async function fileFrom(address) {
  const response = await fetched(address);
  const named = /filename="([^"]+)"/.exec(response.headers.get("content-disposition") ?? "");
  return { name: named?.[1] ?? "report", file: await response.blob() };
}

/** @param {string} method @param {unknown} body @returns {RequestInit} */
function sending(method, body) {
  return { method, body: JSON.stringify(body), headers: { "content-type": "application/json" } };
}

/** @param {string} address @param {RequestInit} [request] */
async function answerOf(address, request) {
  const response = await fetched(address, { headers: { accept: "application/json" }, ...request });
  return response.status === 204 ? null : response.json();
}

/** @param {string} address @param {RequestInit} [request] */
async function fetched(address, request) {
  const response = await fetch(address, request).catch(() => null);
  if (response === null) throw new Refusal("No word from the server: is Festoon still running on its computer?", [], 0);
  if (!response.ok) throw await refusalFrom(response);
  return response;
}

/** @param {Response} response */
async function refusalFrom(response) {
  const said = await response.json().catch(() => null);
  const reason = typeof said?.reason === "string" ? said.reason : `The server answered with ${response.status}.`;
  return new Refusal(reason, Array.isArray(said?.faults) ? said.faults.map(String) : [], response.status);
}

/** Why something did not work, in words. @param {unknown} error */
export function whyNot(error) {
  if (!(error instanceof Error)) return String(error);
  const faults = error instanceof Refusal ? error.faults : [];
  return [error.message, ...faults].join(" ");
}
