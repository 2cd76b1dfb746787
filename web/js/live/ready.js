// @ts-check
// Who has said that a station is ready before the first start. It is asked of nobody until somebody in the run has said it:
// a crew of one may do without.

import { housesBriefly, numberOf } from "../words/names.js";

/**
 * @typedef {import("../wire.js").RestartCard} RestartCard
 * @typedef {import("../wire.js").RunInfo} RunInfo
 */

const LAST_S = 60; // before the start, in which whoever is missing is told largest

/** Whether anybody is asked whether they are ready: after a stop always, before the first start once one house is. @param {RestartCard} card */
export function asksReady({ before, stations }) {
  return before === "restart" || stations.some(({ ready_s }) => ready_s !== null);
}

/** A card without who is not ready: before the first start that is told apart, and where nobody is asked not at all. @param {RestartCard} card @returns {RestartCard} */
export function besideReady(card) {
  const stations = card.stations.map((station) => ({ ...station, missing: station.missing.filter((what) => what !== "ready") }));
  return {
    ...card,
    stations,
    ready: stations.every(({ missing }) => missing.length === 0) && card.links.every(({ known, spent }) => known !== "none" && !spent),
  };
}

/** A card with what is asked of it. @param {RestartCard} card @returns {RestartCard} */
export function askedOf(card) {
  return asksReady(card) ? card : besideReady(card);
}

/** The houses that are waited for before the first start: `Houses 3 and 4`; empty where nobody is asked, or none is missing. @param {RestartCard} card @param {RunInfo} info */
export function notReady(card, info) {
  if (card.before === "restart" || !asksReady(card)) return "";
  const houses = card.stations.filter(({ ready_s }) => ready_s === null).map(({ station }) => numberOf(info, station));
  return houses.length ? housesBriefly(houses) : "";
}

/** Whether it is the last minute before a start, or past it. @param {RestartCard} card @param {number} now_s */
export function isLastMinute({ start_s }, now_s) {
  return start_s !== null && start_s - now_s <= LAST_S;
}
