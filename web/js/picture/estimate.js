// @ts-check
// What the engine's state says about any instant: counts, passes, slack. The formulas are those of server/timeline/view.py.

/**
 * @typedef {import("../wire.js").Station} Station
 * @typedef {import("../wire.js").Link} Link
 * @typedef {import("../wire.js").MarkInfo} MarkInfo
 * @typedef {{t_s: number, sd_s: number, seen: boolean}} Pass when a mark is at a gate; `seen` where it was observed
 */

/** Film fed by the station at `t_s`, in seconds of film. @param {Station} station @param {number} t_s */
export function countAt(station, t_s) {
  return station.count_s + (t_s - station.at_s) * station.rate;
}

/** The place of the print that is in the station's gate: a mark's own `x_s` when that mark is. @param {Station} station @param {number} t_s */
export function printAt(station, t_s) {
  return countAt(station, t_s) - station.ahead_s;
}

/** The pass of a mark, or null where nothing is known of it: a standing motor has none to come. @param {Station} station @param {MarkInfo} mark @returns {Pass | null} */
export function passOf(station, mark) {
  const seen_s = station.passes[mark.id];
  if (seen_s !== undefined) return { t_s: seen_s, sd_s: 0, seen: true };
  if (station.rate <= 0) return null;
  const after_s = (mark.x_s + station.ahead_s - station.count_s) / station.rate;
  const t_s = station.at_s + after_s;
  if (station.started_s !== null && t_s < station.started_s) return null;
  return { t_s, sd_s: passSd(station, after_s), seen: false };
}

/** One standard deviation of a pass `after_s` seconds after the state's instant. @param {Station} station @param {number} after_s */
export function passSd(station, after_s) {
  return sdAt(station.eta_var, after_s) / station.rate;
}

/** One standard deviation `after_s` seconds after the instant of its variance's coefficients. @param {number[]} variance @param {number} after_s */
function sdAt([a = 0, b = 0, c = 0, w = 0], after_s) {
  const d = Math.max(after_s, 0);
  return Math.sqrt(Math.max(a + b * d + c * d ** 2 + w * d ** 3, 0));
}

/** Film that the link holds over (+) or under (-) what was threaded; null where its film has a free end. @param {Link} link @param {number} t_s */
export function slackAt({ slack_s, drift, at_s }, t_s) {
  return slack_s === null ? null : slack_s + (t_s - at_s) * (drift ?? 0);
}

/** One standard deviation of the slack, where there is one. @param {Link} link @param {number} t_s */
export function slackSdAt({ slack_var, at_s }, t_s) {
  return slack_var === null ? 0 : sdAt(slack_var, t_s - at_s);
}

/** Slack as a share of the reserve: -1 is taut, 1 on the floor; 0 where the link has no reserve, null where its film has a free end. @param {Link} link @param {number} t_s */
export function slackShareAt(link, t_s) {
  const slack_s = slackAt(link, t_s);
  if (slack_s === null) return null;
  return link.reserve_s > 0 ? slack_s / link.reserve_s : 0;
}
