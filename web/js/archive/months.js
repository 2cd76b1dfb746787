// @ts-check
// Alarms across sites and months: the bars of each chart, which are the rows of the table beside it.

import { ALARM_NAMES } from "../words/kinds.js";

/**
 * @typedef {{month: string, site: string, runs: number, hours: number, alarms: Record<string, number>}} MonthOfSite
 * @typedef {{months: MonthOfSite[], sites: string[]}} Months
 * @typedef {{name: string, value: number, told: string}} Bar
 */

const MONTHS = 12; // a year is what a season is compared with: chosen

/** The first day of the month a year ago, and the last day of this one. @param {Date} now @returns {{from: string, to: string}} */
export function lastYear(now) {
  const day = (/** @type {Date} */ date) => date.toISOString().slice(0, 10);
  const [year, month] = [now.getUTCFullYear(), now.getUTCMonth()];
  return { from: day(new Date(Date.UTC(year, month - MONTHS + 1, 1))), to: day(new Date(Date.UTC(year, month + 1, 0))) };
}

/** Alarms an hour in each month, over all sites that are shown. @param {MonthOfSite[]} months @param {string} [locale] @returns {Bar[]} */
export function byMonth(months, locale) {
  return ratesOf(grouped(months, ({ month }) => month)).map(({ name, ...rest }) => ({
    name: new Intl.DateTimeFormat(locale, { month: "short", year: "numeric", timeZone: "UTC" }).format(Date.parse(name)),
    ...rest,
  }));
}

/** Alarms an hour at each site, most first. @param {MonthOfSite[]} months @returns {Bar[]} */
export function bySite(months) {
  return ratesOf(grouped(months, ({ site }) => site)).sort((one, other) => other.value - one.value || one.name.localeCompare(other.name));
}

/** How often people were told of each kind, most first. @param {MonthOfSite[]} months @returns {Bar[]} */
export function byKind(months) {
  /** @type {Map<string, number>} */
  const times = new Map();
  for (const { alarms } of months) for (const [kind, count] of Object.entries(alarms)) times.set(kind, (times.get(kind) ?? 0) + count);
  return [...times]
    .map(([kind, value]) => ({ name: ALARM_NAMES[kind] ?? kind, value, told: String(value) }))
    .sort((one, other) => other.value - one.value || one.name.localeCompare(other.name));
}

/** @param {MonthOfSite[]} months @param {(month: MonthOfSite) => string} key */
function grouped(months, key) {
  /** @type {Map<string, {hours: number, alarms: number}>} */
  const groups = new Map();
  for (const month of months) {
    const group = groups.get(key(month)) ?? { hours: 0, alarms: 0 };
    group.hours += month.hours;
    group.alarms += Object.values(month.alarms).reduce((sum, count) => sum + count, 0);
    groups.set(key(month), group);
  }
  return groups;
}

/** @param {Map<string, {hours: number, alarms: number}>} groups @returns {Bar[]} */
function ratesOf(groups) {
  return [...groups].map(([name, { hours, alarms }]) => {
    const value = hours > 0 ? alarms / hours : 0;
    return { name, value, told: hours > 0 ? `${value.toFixed(2)} (${alarms} in ${hours.toFixed(1)} h)` : `${alarms}, no hours known` };
  });
}
