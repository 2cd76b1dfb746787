// @ts-check
// A time of day as a person writes it down, and the moment of the run that it means.

/** @typedef {import("./format.js").HouseClock} HouseClock */

const DAY_S = 86_400;

/** The house's time of day in seconds after its midnight, to the millisecond. @param {HouseClock} clock @param {number} t_s */
export function timeOfDay(clock, t_s) {
  const moment_ms = Math.round(clock.zero_ms + t_s * 1000);
  const parts = new Intl.DateTimeFormat("en-GB", {
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
    hourCycle: "h23",
    timeZone: clock.timezone,
  }).formatToParts(new Date(moment_ms));
  const part = (/** @type {string} */ name) => Number(parts.find(({ type }) => type === name)?.value ?? 0);
  return part("hour") * 3600 + part("minute") * 60 + part("second") + (((moment_ms % 1000) + 1000) % 1000) / 1000;
}

/** The time of day as a time field takes it, `19:04:05` or with tenths of a second. @param {HouseClock} clock @param {number} t_s @param {number} [digits] */
export function fieldTime(clock, t_s, digits = 0) {
  const tick = 10 ** -digits;
  const at_s = (Math.round(timeOfDay(clock, t_s) / tick) * tick) % DAY_S;
  const whole = Math.floor(at_s + tick / 2);
  const two = (/** @type {number} */ value) => String(value).padStart(2, "0");
  const seconds = digits > 0 ? (at_s % 60).toFixed(digits).padStart(3 + digits, "0") : two(whole % 60);
  return `${two(Math.floor(whole / 3600))}:${two(Math.floor(whole / 60) % 60)}:${seconds}`;
}

/** Seconds after midnight of `19:04`, `19:04:05` or `19:04:05.2`; null for anything else. @param {string} text */
export function secondsFromField(text) {
  const found = /^(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d{1,6})?))?$/.exec(text.trim());
  if (!found) return null;
  const [hours, minutes, seconds] = [Number(found[1]), Number(found[2]), Number(found[3] ?? 0)];
  return hours < 24 && minutes < 60 && seconds < 60 ? hours * 3600 + minutes * 60 + seconds : null;
}

/** The moment nearest to `near_s` at which the house's clock shows a time of day; null where the text is none. @param {HouseClock} clock @param {string} text @param {number} near_s */
export function momentFromClock(clock, text, near_s) {
  const wanted_s = secondsFromField(text);
  if (wanted_s === null) return null;
  const first_s = near_s + apart(wanted_s, timeOfDay(clock, near_s));
  const then_s = first_s + apart(wanted_s, timeOfDay(clock, first_s)); // again: the house's clock may have been set between
  return Math.round(then_s * 1000) / 1000;
}

/** From one time of day to another, the shorter way. @param {number} to_s @param {number} from_s */
function apart(to_s, from_s) {
  const off_s = (to_s - from_s) % DAY_S;
  if (off_s > DAY_S / 2) return off_s - DAY_S;
  return off_s < -DAY_S / 2 ? off_s + DAY_S : off_s;
}
