// @ts-check
// Numbers as people read them. Times of a run are seconds after its zero; clocks are the house's.

/** @typedef {{zero_ms: number, timezone: string, locale?: string | undefined}} HouseClock */

const NIGHT_S = 6 * 3600; // a show that goes on past midnight is still that night's: chosen
const HOUR_S = 3600; // a time of day within it is told by its figures alone: chosen
const KEPT_TEXTS = 2000; // chosen: a page shows some hundred times of day, and the same ones again and again

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();
/** @type {Map<string, string>} */
const texts = new Map();

/** @param {HouseClock} clock @param {boolean} seconds */
function clockFormat({ timezone, locale }, seconds) {
  const key = `${timezone} ${locale ?? ""} ${seconds}`;
  const known = formats.get(key);
  if (known) return known;
  const format = new Intl.DateTimeFormat(locale, {
    hour: "numeric",
    minute: "2-digit",
    ...(seconds ? { second: "2-digit" } : {}),
    timeZone: timezone,
  });
  formats.set(key, format);
  return format;
}

/** The house's clock: 7:14, or 19:14 where the reader's language counts to 24; with its half of the day 7:14 pm. @param {HouseClock} clock @param {number} t_s @param {boolean} [seconds] @param {boolean} [half] */
export function clockText(clock, t_s, seconds = false, half = false) {
  const moment_ms = clock.zero_ms + t_s * 1000;
  const key = `${clock.timezone} ${clock.locale ?? ""} ${seconds} ${half} ${Math.floor(moment_ms / 1000)}`;
  const known = texts.get(key);
  if (known !== undefined) return known;
  const text = clockFormat(clock, seconds)
    .formatToParts(new Date(moment_ms))
    .filter(({ type }) => half || type !== "dayPeriod")
    .map(({ type, value }) => (type === "dayPeriod" ? value.toLowerCase() : value.replace(/\s/g, " ")))
    .join("")
    .trim();
  if (texts.size >= KEPT_TEXTS) texts.clear();
  texts.set(key, text);
  return text;
}

/** A time as it is read at `now_s`: beyond an hour with its half of the day, beyond a night with its day: `7:14 am on Sunday 15 March`. @param {HouseClock} clock @param {number} t_s @param {number} now_s not finite where it is not known @param {boolean} [seconds] */
export function timeText(clock, t_s, now_s, seconds = false) {
  const off_s = Math.abs(t_s - now_s);
  if (!Number.isFinite(off_s)) return clockText(clock, t_s, seconds);
  const time = clockText(clock, t_s, seconds, off_s > HOUR_S);
  const day = off_s < NIGHT_S ? "" : dayText(clock, t_s);
  return day === "" || day === dayText(clock, now_s) ? time : `${time} on ${day}`;
}

/** A time that is read at any time: with the day where it is not that of the show. @param {HouseClock} clock @param {number} t_s @param {boolean} [seconds] @param {boolean} [half] */
export function dayClockText(clock, t_s, seconds = false, half = false) {
  const time = clockText(clock, t_s, seconds, half);
  const day = Math.abs(t_s) < NIGHT_S ? "" : dayText(clock, t_s);
  return day === "" || day === dayText(clock, 0) ? time : `${time} on ${day}`;
}

/** @param {HouseClock} clock @param {number} t_s */
function dayText({ zero_ms, timezone }, t_s) {
  const format = new Intl.DateTimeFormat("en-GB", { weekday: "long", day: "numeric", month: "long", timeZone: timezone });
  return format.format(zero_ms + t_s * 1000).replace(",", "");
}

/** The house clock of a run. @param {import("../wire.js").RunInfo} info @param {string} [locale] @returns {HouseClock} */
export function houseClock(info, locale) {
  return { zero_ms: Date.parse(info.zero), timezone: info.timezone, locale };
}

/** Time left, as 1:45, or 2 h 05 min where seconds do not matter; below zero it counts up with a plus. @param {number} left_s */
export function countdown(left_s) {
  const whole = Math.ceil(left_s - 1e-6);
  return whole < 0 ? `+${lapse(-whole)}` : lapse(whole);
}

/** A time to come that is known only roughly; in minutes, so that nobody takes it for a time of day. @param {number} left_s */
export function aboutText(left_s) {
  return left_s < 90 ? `${Math.max(5, Math.round(left_s / 5) * 5)} s` : `${Math.round(left_s / 60)} min`;
}

/** Whether a countdown is told in so many letters that it wants smaller ones. @param {number} left_s */
export function isLong(left_s) {
  return Math.abs(Math.ceil(left_s - 1e-6)) >= 3600;
}

/** @param {number} whole_s */
function lapse(whole_s) {
  const minutes = Math.floor(whole_s / 60);
  if (minutes < 60) return `${minutes}:${String(whole_s % 60).padStart(2, "0")}`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** A length of time in words: 45 s, 12 min, 1 h 05 min. @param {number} length_s */
export function lengthInWords(length_s) {
  const whole = Math.max(0, Math.round(length_s));
  if (whole < 60) return `${whole} s`;
  const minutes = Math.round(whole / 60);
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** Slack as a person says it: 0.3 s loose, 1.1 s tight, at rest. @param {number} slack_s */
export function slackInWords(slack_s) {
  const size = Math.abs(slack_s).toFixed(1);
  if (size === "0.0") return "at rest";
  return `${size} s ${slack_s > 0 ? "loose" : "tight"}`;
}

const NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/** @param {string} words */
export function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** A count in words up to twelve. @param {number} count */
export function countInWords(count) {
  return NUMBERS[count] ?? String(count);
}

/** @param {number} count @param {string} one @param {string} [many] */
export function plural(count, one, many = `${one}s`) {
  return count === 1 ? one : many;
}
