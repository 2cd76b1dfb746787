// @ts-check
// How much film a link that stands off has too much or too little, as a person at the loop counts it.

import { slackAt } from "../picture/estimate.js";

/**
 * @typedef {import("../wire.js").FilmInfo} FilmInfo
 * @typedef {import("../live/store.js").RunState} RunState
 */

const KEPT = "\u00a0"; // a space at which no line breaks: half a length would be read as another
const OFF_SHARE = 0.1; // of the reserve: what is less is at rest as far as anybody can lace. Chosen

/** Film as counter feet and frames: `3 ft 5 frames`. Feet are the counter's, a number of frames each; it stays on one line. @param {FilmInfo} film @param {number} seconds of film, of either sign */
export function filmInWords({ frame_mm, speed_m_per_s, frames_per_foot }, seconds) {
  const frames = Math.round((Math.abs(seconds) * speed_m_per_s * 1000) / frame_mm);
  const whole = Math.floor(frames / frames_per_foot + 1e-9);
  const rest = Math.round(frames - whole * frames_per_foot);
  const [feet, over] = rest >= frames_per_foot ? [whole + 1, 0] : [whole, rest]; // a foot of 70 mm is no whole number of frames
  const words = [feet ? `${feet}${KEPT}ft` : "", over || !feet ? `${over}${KEPT}${over === 1 ? "frame" : "frames"}` : ""];
  return words.filter(Boolean).join(KEPT);
}

/** Whether a link is far enough from rest that somebody puts it right. @param {number} slack_s @param {number} reserve_s */
function isOff(slack_s, reserve_s) {
  return Math.abs(slack_s) > OFF_SHARE * reserve_s;
}

/**
 * What puts a link right, `take out 3 ft 5 frames` or `give 3 ft 5 frames`, while its film stands; while it runs how
 * much that is, as nobody laces film that moves. Empty where the link is at rest.
 * @param {FilmInfo} film @param {number | null} slack_s over (+) or under (-), null where an end is free @param {number} reserve_s @param {boolean} runs
 */
export function lacingInWords(film, slack_s, reserve_s, runs) {
  if (slack_s === null || !isOff(slack_s, reserve_s)) return "";
  const length = filmInWords(film, slack_s);
  if (runs) return length;
  return slack_s > 0 ? `take out ${length}` : `give ${length}`;
}

/** What puts a link of a run right; empty where it is at rest or its film has a free end. @param {RunState} state @param {number} place of the link, in film order @param {number} t_s */
export function lacingOf({ info, links, stations }, place, t_s) {
  const link = links[place];
  if (!link) return "";
  const runs = stations[place]?.running || stations[place + 1]?.running || false;
  return lacingInWords(info.film, slackAt(link, t_s), link.reserve_s, runs);
}

/** Instead of the slack of a link of which there is none to tell: a dash, and why, where its film still runs. @param {RunState} state @param {number} place of the link, in film order */
export function freeEndInWords({ stations }, place) {
  const [above, below] = [stations[place]?.phase, stations[place + 1]?.phase];
  if (above !== "clear") return "– not known"; // a start that nobody could see
  return below === "clear" ? "–" : "– free end";
}
