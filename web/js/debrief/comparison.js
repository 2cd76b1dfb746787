// @ts-check
// Several runs laid over each other: each counted from its own first start.

/**
 * @typedef {import("../wire.js").Comparison} Comparison
 * @typedef {{label: string, points: {x: number, y: number}[]}} Strand one run in the chart; a gap in it is a NaN
 */

/** The letter of a run, by its place. @param {number} place */
export function letterOf(place) {
  return String.fromCharCode(65 + place);
}

/** Seconds by which a mark was seen after its plan at each station, both counted from the first start; one strand a run. @param {Comparison} comparison @param {string} mark @param {string[]} stations in film order @returns {Strand[]} */
export function passStrands(comparison, mark, stations) {
  return comparison.series.map(({ passes }, place) => {
    const first_s = comparison.runs[place]?.first_start_s ?? 0;
    const points = stations.flatMap((station, x) => {
      const pass = passes.find((each) => each.station === station && each.mark === mark);
      if (!pass || pass.observed_s === null || !pass.believed) return [];
      return [{ x, y: pass.observed_s - first_s - pass.planned_s }];
    });
    return { label: letterOf(place), points };
  });
}

/** The slack of a link through each run, by seconds after its first start. @param {Comparison} comparison @param {string} link @returns {Strand[]} */
export function slackStrands(comparison, link) {
  return comparison.series.map(({ slack }, place) => {
    const first_s = comparison.runs[place]?.first_start_s ?? 0;
    const values = slack.links.find(({ id }) => id === link)?.slack_s ?? [];
    const points = slack.t_s.map((t_s, index) => ({ x: t_s - first_s, y: values[index] ?? NaN }));
    return { label: letterOf(place), points: values.length > 0 ? points : [] };
  });
}

/** From the least to the most of all strands, never without room. @param {Strand[]} strands @param {"x" | "y"} axis @returns {[number, number]} */
export function extentOf(strands, axis) {
  const values = strands.flatMap(({ points }) => points.map((point) => point[axis])).filter((value) => !Number.isNaN(value));
  if (values.length === 0) return [0, 1];
  const [least, most] = [Math.min(...values), Math.max(...values)];
  return most > least ? [least, most] : [least - 1, most + 1];
}
