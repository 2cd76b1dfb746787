// @ts-check
// The geometry of the picture: rows of posts, the shape of a hanging loop, places along it, rings of a roll. Lengths in pixels.

/** @typedef {{x: number, y: number, f: number}} LoopPoint `f`: the share of the film's way, 0 at the upstream gate, 1 at the downstream one */

const STEPS = 36; // points along one loop: chosen, no corner is seen at 300 px

/** How many posts stand in each row: as few rows as `narrowest` allows, and evenly filled. @param {number} posts @param {number} width @param {number} narrowest @returns {number[]} */
export function rowsFrom(posts, width, narrowest) {
  const most = Math.max(1, Math.floor(width / narrowest));
  const rows = Math.max(1, Math.ceil(posts / most));
  const few = Math.floor(posts / rows);
  return Array.from({ length: rows }, (_, row) => few + (row < posts % rows ? 1 : 0));
}

/** How deep the middle of a loop hangs, of `deepest`: 0 taut, half at rest, all of it on the floor; a longer loop lies on it. @param {number} share slack by reserve @param {number} deepest */
export function loopDepth(share, deepest) {
  return Math.max(0, ((1 + share) / 2) * deepest);
}

/**
 * A loop between two posts as points with the film's way along it. What would hang lower than `floor` lies on it.
 * @param {number} x0 @param {number} x1 @param {number} y of both gates @param {number} depth @param {number} floor @returns {LoopPoint[]}
 */
export function loopPoints(x0, x1, y, depth, floor) {
  const points = Array.from({ length: STEPS + 1 }, (_, step) => {
    const u = step / STEPS;
    return { x: x0 + u * (x1 - x0), y: Math.min(y + 4 * depth * u * (1 - u), floor), f: 0 };
  });
  let way = 0;
  points.reduce((before, point) => {
    way += Math.hypot(point.x - before.x, point.y - before.y);
    point.f = way;
    return point;
  });
  for (const point of points) point.f /= way || 1;
  return points;
}

/** The point at a share of the film's way. @param {LoopPoint[]} points @param {number} f @returns {LoopPoint} */
export function pointAt(points, f) {
  const last = points.length - 1;
  const next = points.findIndex((point) => point.f >= f);
  const after = /** @type {LoopPoint} */ (points[next === -1 ? last : Math.max(next, 1)]);
  const before = /** @type {LoopPoint} */ (points[(next === -1 ? last : Math.max(next, 1)) - 1]);
  const part = after.f > before.f ? Math.min(Math.max((f - before.f) / (after.f - before.f), 0), 1) : 0;
  return { x: before.x + part * (after.x - before.x), y: before.y + part * (after.y - before.y), f };
}

/** The part of a loop between two shares of its way. @param {LoopPoint[]} points @param {number} from @param {number} to @returns {LoopPoint[]} */
export function pieceOf(points, from, to) {
  const inside = points.filter((point) => point.f > from && point.f < to);
  return [pointAt(points, from), ...inside, pointAt(points, to)];
}

/**
 * The outer radius of each length wound onto a core, in order: the area of a ring is its length (handbook: `L = pi (D² - d²) / 4t`),
 * scaled so that `full` fills the roll of radius `rim`.
 * @param {number[]} lengths @param {number} full @param {number} core @param {number} rim
 */
export function ringRadii(lengths, full, core, rim) {
  const area = full > 0 ? (rim ** 2 - core ** 2) / full : 0;
  let wound = 0;
  return lengths.map((length) => {
    wound += length;
    return Math.sqrt(core ** 2 + wound * area);
  });
}

/** How far apart cross lines stand on the film, in seconds of film: so that none is nearer its neighbour than `gap` on the densest link. @param {number} pixels_per_s @param {number} gap */
export function tickEvery(pixels_per_s, gap) {
  return [1, 2, 5, 10, 15, 30, 60, 120].find((every) => every * pixels_per_s >= gap) ?? 300;
}
