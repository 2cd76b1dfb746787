// @ts-check
// Where every piece of the print is: at a gate, between two gates, on the two rolls. Places are seconds of film of the print.

/**
 * @typedef {import("../wire.js").SegmentInfo} Segment
 * @typedef {"hollow" | "grey" | "pale" | "a" | "b" | "c"} Ink how a piece is drawn; hollow is film without a picture
 * @typedef {{from: number, to: number, ink: Ink, segment: Segment | null}} Span `from` >= `to`: film order runs downstream first
 */

const THREADED_ROLL_S = 120; // leader that waits on the take-up before the print comes: chosen, for the drawing only

/** @type {Ink[]} */
const TRAILER_INKS = ["a", "b", "c"];

/** The ink of each segment, by id: trailers take turns, the feature is quiet, film without a picture is hollow. @param {Segment[]} segments @returns {Map<string, Ink>} */
export function inksOf(segments) {
  let trailers = 0;
  return new Map(segments.map((segment) => [segment.id, inkOf(segment, () => trailers++)]));
}

/** @param {Segment} segment @param {() => number} nextTrailer @returns {Ink} */
function inkOf(segment, nextTrailer) {
  switch (segment.kind) {
    case "trailer":
      return TRAILER_INKS[nextTrailer() % TRAILER_INKS.length] ?? "a";
    case "feature":
      return "grey";
    case "credits":
      return "pale";
    default:
      return "hollow";
  }
}

/** The segment at a place of the print; null in the threading leader before it and behind its end. @param {Segment[]} segments @param {number} place_s @returns {Segment | null} */
export function segmentAt(segments, place_s) {
  return segments.find(({ x_s, length_s }) => x_s <= place_s && place_s < x_s + length_s) ?? null;
}

/** The end of the print. @param {Segment[]} segments */
export function printEnd(segments) {
  const last = segments[segments.length - 1];
  return last ? last.x_s + last.length_s : 0;
}

/**
 * The pieces between an upstream and a downstream place, upstream first; nothing behind the end of the print.
 * @param {Segment[]} segments @param {Map<string, Ink>} inks @param {number} upstream_s @param {number} downstream_s @returns {Span[]}
 */
export function spansBetween(segments, inks, upstream_s, downstream_s) {
  const spans = segments
    .map((segment) => ({
      from: Math.min(segment.x_s + segment.length_s, upstream_s),
      to: Math.max(segment.x_s, downstream_s),
      ink: inks.get(segment.id) ?? /** @type {Ink} */ ("hollow"),
      segment,
    }))
    .filter(({ from, to }) => from > to)
    .reverse();
  const start_s = segments[0]?.x_s ?? 0;
  if (downstream_s >= start_s) return spans;
  const leader = { from: Math.min(upstream_s, start_s), to: downstream_s, ink: /** @type {Ink} */ ("hollow"), segment: null };
  return [...spans, leader];
}

/** The points of the print between an upstream and a downstream place that are the start of no piece, upstream first. @param {import("../wire.js").MarkInfo[]} marks @param {number} upstream_s @param {number} downstream_s */
export function marksBetween(marks, upstream_s, downstream_s) {
  return marks.filter((mark) => isOwnPoint(mark) && downstream_s <= mark.x_s && mark.x_s <= upstream_s).sort((a, b) => b.x_s - a.x_s);
}

/** Whether a mark is a point of its own, and not the start of a piece: where something is changed, or a strip of tape. @param {import("../wire.js").MarkInfo} mark */
export function isOwnPoint({ kind }) {
  return kind === "change" || kind === "mark";
}

/** What still waits before the first gate, first to go first. @param {Segment[]} segments @param {Map<string, Ink>} inks @param {number} place_s at the first gate */
export function waitingRoll(segments, inks, place_s) {
  return spansBetween(segments, inks, printEnd(segments), place_s).reverse();
}

/** What came out behind the last gate, first out first. @param {Segment[]} segments @param {Map<string, Ink>} inks @param {number} place_s at the last gate @param {number} threaded_s at the last gate at threading */
export function takenRoll(segments, inks, place_s, threaded_s) {
  return spansBetween(segments, inks, place_s, threaded_s - THREADED_ROLL_S).reverse();
}
