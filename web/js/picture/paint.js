// @ts-check
// Draws one row of the chain: posts, gates, loops of film with their pieces, the two rolls. Nothing here knows an element.

import { printAt, slackSdAt, slackShareAt } from "./estimate.js";
import { inOneLine } from "./fit.js";
import { marksBetween, segmentAt, spansBetween, takenRoll, waitingRoll } from "./film.js";
import { loopDepth, loopPoints, pieceOf, pointAt, ringRadii } from "./loops.js";

/**
 * @typedef {import("./loops.js").LoopPoint} LoopPoint
 * @typedef {import("./film.js").Ink} Ink
 * @typedef {import("./film.js").Span} Span
 * @typedef {import("../wire.js").Alarm["level"]} Level
 * @typedef {import("../live/store.js").RunState} RunState
 * @typedef {object} Row the part of the chain that one canvas shows
 * @property {number} first index of its first station
 * @property {number} count
 * @property {boolean} last the chain ends in it
 * @property {number} lead from the left edge to the first post, in pixels
 * @property {number} pitch from post to post
 * @property {number} width
 * @property {number} height
 * @typedef {object} Scene what is common to all rows
 * @property {RunState} state
 * @property {number} t_s
 * @property {Map<string, Ink>} inks by segment
 * @property {Map<string, Level>} levels by subject
 * @property {Palette} palette
 * @property {number} tick_s how far apart the cross lines stand, 0 for none
 * @property {string} type the font family
 * @property {number} film thickness of the film
 * @property {number} least how large names on the film are at least, in pixels
 * @typedef {Record<"ground" | "lit" | "ink" | "ink2" | "rule" | "edge" | "act" | "watch" | Ink, string>} Palette
 */

const GATE = { width: 13, height: 34 };
const ROLL = { core: 7, rim: 34 };
const BAND_SD = 1.645; // 90 %, as the forecasts
const LEAD_S = 24; // film drawn between a roll and its gate: for the drawing only

/** Heights inside a row. @param {Row} row */
function levelsOf(row) {
  return { gate: Math.max(30, row.height * 0.19), floor: row.height - 18 };
}

/** How thick the film is drawn, with its two edges, in a row so high. @param {number} height */
export function filmThickness(height) {
  return Math.min(Math.max(height / 16, 10), 16);
}

/** @param {CanvasRenderingContext2D} context @param {Row} row @param {Scene} scene */
export function paintRow(context, row, scene) {
  context.clearRect(0, 0, row.width, row.height);
  paintFloor(context, row, scene);
  for (let column = 0; column < row.count; column += 1) paintBeam(context, row, column, scene);
  paintArrival(context, row, scene);
  for (let column = 0; column < row.count; column += 1) paintLink(context, row, column, scene);
  if (row.last) paintTaken(context, row, scene);
  for (let column = 0; column < row.count; column += 1) paintGate(context, row, column, scene);
}

/** @param {Row} row @param {number} column */
function postX(row, column) {
  return row.lead + column * row.pitch;
}

/** The floor with its hatching, and the posts. @param {CanvasRenderingContext2D} context @param {Row} row @param {Scene} scene */
function paintFloor(context, row, { palette, film }) {
  const { floor } = levelsOf(row);
  const bottom = floor + film / 2 + 1;
  const right = Math.min(row.width, postX(row, row.count));
  context.strokeStyle = palette.rule;
  context.lineWidth = 1;
  context.beginPath();
  for (let x = 4; x < right; x += 9) {
    context.moveTo(x, bottom + 7);
    context.lineTo(x + 6, bottom);
  }
  context.stroke();
  context.lineWidth = 2;
  context.beginPath();
  context.moveTo(0, bottom);
  context.lineTo(right, bottom);
  const posts = row.last ? row.count : row.count + 1;
  for (let column = 0; column < posts; column += 1) {
    context.moveTo(postX(row, column), 0);
    context.lineTo(postX(row, column), bottom);
  }
  context.stroke();
}

/** Light from a gate up to its card, where a picture is on screen. @param {CanvasRenderingContext2D} context @param {Row} row @param {number} column @param {Scene} scene */
function paintBeam(context, row, column, { state, palette }) {
  const station = state.stations[row.first + column];
  if (station?.lamp !== "lit" || station.douser === "shut" || station.phase !== "showing") return;
  const x = postX(row, column);
  const { gate } = levelsOf(row);
  context.fillStyle = palette.lit;
  context.beginPath();
  context.moveTo(x, gate - 4);
  context.lineTo(x, 0);
  context.lineTo(x + row.pitch * 0.97, 0);
  context.closePath();
  context.fill();
}

/** The link that leaves a column's station. @param {CanvasRenderingContext2D} context @param {Row} row @param {number} column @param {Scene} scene */
function paintLink(context, row, column, scene) {
  const { state, t_s, palette, levels } = scene;
  const index = row.first + column;
  const upstream = state.stations[index];
  const downstream = state.stations[index + 1];
  const link = state.links[index];
  if (!upstream || !downstream || !link) return;
  const share = slackShareAt(link, t_s);
  if (share === null) return; // its film has a free end: nothing hangs
  const { gate, floor } = levelsOf(row);
  const loop = (/** @type {number} */ at) => loopPoints(postX(row, column), postX(row, column + 1), gate, loopDepth(at, floor - gate), floor);
  const points = loop(share);
  const spread = link.reserve_s > 0 ? (BAND_SD * slackSdAt(link, t_s)) / link.reserve_s : 0;
  paintBand(context, loop(share - spread), loop(share + spread), palette);
  paintLevel(context, points, levels.get(link.id), scene);
  paintFilm(context, points, printAt(upstream, t_s), printAt(downstream, t_s), scene);
  paintMarks(context, points, floor, printAt(upstream, t_s), printAt(downstream, t_s), scene);
}

/** How sure the loop is: where it hangs with 90 % probability. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} tight @param {LoopPoint[]} loose @param {Palette} palette */
function paintBand(context, tight, loose, palette) {
  context.beginPath();
  tracePoints(context, tight);
  for (const { x, y } of [...loose].reverse()) context.lineTo(x, y);
  context.closePath();
  context.globalAlpha = 0.13;
  context.fillStyle = palette.ink;
  context.fill();
  context.globalAlpha = 1;
}

/** What asks for somebody to look: filled to act on, an outline to watch. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {Level | undefined} level @param {Scene} scene */
function paintLevel(context, points, level, { palette, film }) {
  if (level !== "act" && level !== "watch") return;
  stroke(context, points, level === "act" ? palette.act : palette.watch, film + 18);
  if (level === "watch") stroke(context, points, palette.ground, film + 12);
}

/** The film along points between two places of the print. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {number} upstream_s @param {number} downstream_s @param {Scene} scene */
function paintFilm(context, points, upstream_s, downstream_s, scene) {
  const length_s = upstream_s - downstream_s;
  if (length_s <= 0) return;
  const { state, inks, palette, film } = scene;
  const share = (/** @type {number} */ place_s) => (upstream_s - place_s) / length_s;
  const spans = spansBetween(state.info.segments, inks, upstream_s, downstream_s);
  for (const span of spans) {
    const piece = pieceOf(points, share(span.from), share(span.to));
    stroke(context, piece, palette.edge, film);
    stroke(context, piece, palette[span.ink], film - 4);
  }
  paintTicks(context, points, spans, share, scene);
  paintFlags(context, points, spans, share, scene);
}

/** Cross lines that travel with the film. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {Span[]} spans @param {(place_s: number) => number} share @param {Scene} scene */
function paintTicks(context, points, spans, share, { palette, tick_s, film }) {
  const from = spans[0]?.from;
  const to = spans[spans.length - 1]?.to;
  if (tick_s <= 0 || from === undefined || to === undefined) return;
  context.strokeStyle = palette.edge;
  context.lineWidth = 1.25;
  context.beginPath();
  for (let place_s = Math.ceil(to / tick_s) * tick_s; place_s <= from; place_s += tick_s) {
    traceAcross(context, points, share(place_s), film / 2);
  }
  context.stroke();
}

/** A line across the film, so far to either side of its middle. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {number} f the share of the film's way @param {number} half */
function traceAcross(context, points, f, half) {
  const { x, y } = pointAt(points, f);
  const ahead = pointAt(points, Math.min(f + 0.02, 1));
  const behind = pointAt(points, Math.max(f - 0.02, 0));
  const way = Math.hypot(ahead.x - behind.x, ahead.y - behind.y) || 1;
  const across = { x: ((behind.y - ahead.y) / way) * half, y: ((ahead.x - behind.x) / way) * half };
  context.moveTo(x - across.x, y - across.y);
  context.lineTo(x + across.x, y + across.y);
}

/** Points of the print that are the start of no piece: a tick across the film, with its name under the loop where there is room above the floor. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {number} floor @param {number} upstream_s @param {number} downstream_s @param {Scene} scene */
function paintMarks(context, points, floor, upstream_s, downstream_s, { state, palette, type, film, least }) {
  const [leftmost, rightmost] = [(points[0]?.x ?? 0) + 10, (points[points.length - 1]?.x ?? 0) - 10];
  let taken = rightmost;
  for (const { title, x_s } of marksBetween(state.info.marks, upstream_s, downstream_s).reverse()) {
    const f = (upstream_s - x_s) / (upstream_s - downstream_s || 1);
    for (const [colour, width, half] of /** @type {const} */ ([
      [palette.ground, 7, film / 2],
      [palette.ink, 3, film / 2 + 4],
    ])) {
      context.strokeStyle = colour;
      context.lineWidth = width;
      context.beginPath();
      traceAcross(context, points, f, half);
      context.stroke();
    }
    const size = nameSize(film, least);
    context.font = `500 ${size}px ${type}`;
    const long = context.measureText(title).width;
    const left = Math.max(Math.min(pointAt(points, f).x - long / 2, taken - long), leftmost);
    const over = points.filter((point) => point.x > left && point.x < left + long).map((point) => point.y);
    const y = Math.max(pointAt(points, f).y, ...over) + film / 2 + size + 2;
    if (left + long > taken || y > floor) continue;
    taken = left - 8;
    paintName(context, title, left, y, palette);
  }
}

/** How large names on the film are, in pixels. @param {number} film its thickness @param {number} least */
function nameSize(film, least) {
  return Math.max(film > 13 ? 16 : 13, least);
}

/** @param {CanvasRenderingContext2D} context @param {string} name @param {number} x @param {number} y @param {Palette} palette */
function paintName(context, name, x, y, palette) {
  context.lineJoin = "round";
  context.lineWidth = 4;
  context.strokeStyle = palette.ground;
  context.strokeText(name, x, y);
  context.fillStyle = palette.ink;
  context.fillText(name, x, y);
}

/** The names of segments, each held up over its first frame, inside the loop. One that would cover another stands above it, or is left out where its row ends. @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {Span[]} spans @param {(place_s: number) => number} share @param {Scene} scene */
function paintFlags(context, points, spans, share, { palette, type, film, least }) {
  const size = nameSize(film, least);
  context.font = `600 ${size}px ${type}`;
  /** @type {{left: number, right: number, y: number}[]} */
  const placed = [];
  const [leftmost, rightmost] = [(points[0]?.x ?? 0) + 10, (points[points.length - 1]?.x ?? 0) - 10];
  for (const { segment, to } of spans) {
    if (!segment || segment.kind === "leader" || to > segment.x_s + 1e-6) continue;
    const { x, y, f } = pointAt(points, share(to));
    const title = inOneLine(segment.title, rightmost - leftmost, (text) => context.measureText(text).width);
    const long = context.measureText(title).width;
    const beside = f < 0.5 ? x + 3 : x - 3 - long;
    const left = Math.max(Math.min(beside, rightmost - long), leftmost);
    const under = points.filter((point) => point.x > left && point.x < left + long).map((point) => point.y);
    const flag = { left, right: left + long, y: Math.min(y, ...under) - film / 2 - 7 };
    while (placed.some((other) => flag.left < other.right && other.left < flag.right && Math.abs(flag.y - other.y) < size)) flag.y -= size + 1;
    if (flag.y < size) continue;
    placed.push(flag);
    context.strokeStyle = palette.ink2;
    context.lineWidth = 1.5;
    context.beginPath();
    context.moveTo(x, y - film / 2);
    context.lineTo(x, flag.y);
    context.stroke();
    paintName(context, title, left, flag.y, palette);
  }
}

/** What comes to the first post: from the roll, or from the row above. @param {CanvasRenderingContext2D} context @param {Row} row @param {Scene} scene */
function paintArrival(context, row, scene) {
  const station = scene.state.stations[row.first];
  if (!station) return;
  const { gate, floor } = levelsOf(row);
  const place_s = printAt(station, scene.t_s);
  const x = postX(row, 0);
  if (row.first > 0) {
    if (scene.state.links[row.first - 1]?.slack_s === null) return;
    paintFilm(context, straight(0, gate, x, gate), place_s + LEAD_S, place_s, scene);
    return;
  }
  const centre = { x: ROLL.rim + 2, y: floor - ROLL.rim + 2 };
  const rings = waitingRoll(scene.state.info.segments, scene.inks, place_s);
  const rim = paintRoll(context, centre, [...rings].reverse(), place_s, scene);
  paintFilm(context, straight(centre.x + rim * 0.2, centre.y - rim, x, gate), place_s + LEAD_S, place_s, scene);
}

/** The roll that takes the film up behind the last gate. @param {CanvasRenderingContext2D} context @param {Row} row @param {Scene} scene */
function paintTaken(context, row, scene) {
  const { state, t_s, inks } = scene;
  const station = state.stations[state.stations.length - 1];
  if (!station) return;
  const { gate, floor } = levelsOf(row);
  const place_s = printAt(station, t_s);
  const x = postX(row, row.count - 1);
  const centre = { x: Math.min(x + row.pitch * 0.6, row.width - ROLL.rim - 4), y: floor - ROLL.rim + 2 };
  const rings = takenRoll(state.info.segments, inks, place_s, -station.ahead_s);
  const rim = paintRoll(context, centre, rings, place_s, scene);
  if (station.phase === "clear") return;
  paintFilm(context, straight(x, gate, centre.x - rim * 0.2, centre.y - rim), place_s, place_s - LEAD_S, scene);
}

/** A roll as rings, the first innermost; it turns as its film moves. @param {CanvasRenderingContext2D} context @param {{x: number, y: number}} centre @param {Span[]} rings @param {number} place_s @param {Scene} scene @returns {number} its radius */
function paintRoll(context, { x, y }, rings, place_s, { state, palette }) {
  const whole_s = state.info.segments.reduce((sum, { length_s }) => sum + length_s, 0) + 300;
  const radii = ringRadii(
    rings.map(({ from, to }) => from - to),
    whole_s,
    ROLL.core,
    ROLL.rim,
  );
  const rim = radii[radii.length - 1] ?? ROLL.core;
  for (let ring = rings.length - 1; ring >= 0; ring -= 1) disc(context, x, y, radii[ring] ?? 0, palette[rings[ring]?.ink ?? "hollow"]);
  disc(context, x, y, ROLL.core, palette.ground);
  context.strokeStyle = palette.edge;
  context.lineWidth = 1.5;
  const turn = (place_s / 20) * 2 * Math.PI;
  context.beginPath();
  context.arc(x, y, rim, 0, 2 * Math.PI);
  context.moveTo(x + ROLL.core, y);
  context.arc(x, y, ROLL.core, 0, 2 * Math.PI);
  for (const spoke of [0, 2.094, 4.189]) {
    context.moveTo(x, y);
    context.lineTo(x + ROLL.core * Math.cos(turn + spoke), y + ROLL.core * Math.sin(turn + spoke));
  }
  context.stroke();
  return rim;
}

/** A gate: the film goes through between two jaws. @param {CanvasRenderingContext2D} context @param {Row} row @param {number} column @param {Scene} scene */
function paintGate(context, row, column, { state, t_s, palette, levels, inks, film }) {
  const station = state.stations[row.first + column];
  if (!station) return;
  const { gate } = levelsOf(row);
  const [left, top] = [postX(row, column) - GATE.width / 2, gate - GATE.height / 2];
  const level = levels.get(station.id);
  const shown = segmentAt(state.info.segments, printAt(station, t_s));
  if (level === "act" || level === "watch") {
    context.fillStyle = level === "act" ? palette.act : palette.watch;
    context.fillRect(left - 6, top - 6, GATE.width + 12, GATE.height + 12);
    if (level === "watch") {
      context.fillStyle = palette.ground;
      context.fillRect(left - 3, top - 3, GATE.width + 6, GATE.height + 6);
    }
  }
  context.fillStyle = palette.ground;
  context.fillRect(left, top, GATE.width, GATE.height);
  context.strokeStyle = palette.edge;
  context.lineWidth = 2;
  context.strokeRect(left, top, GATE.width, GATE.height);
  if (station.phase === "clear") return; // no film is in it any more
  context.fillStyle = shown ? palette[inks.get(shown.id) ?? "hollow"] : palette.ground;
  context.fillRect(left, gate - film / 2, GATE.width, film);
  context.strokeRect(left, gate - film / 2, GATE.width, film);
}

/** @param {number} x0 @param {number} y0 @param {number} x1 @param {number} y1 @returns {LoopPoint[]} */
function straight(x0, y0, x1, y1) {
  return [
    { x: x0, y: y0, f: 0 },
    { x: x1, y: y1, f: 1 },
  ];
}

/** @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points @param {string} colour @param {number} width */
function stroke(context, points, colour, width) {
  context.strokeStyle = colour;
  context.lineWidth = width;
  context.lineJoin = "round";
  context.beginPath();
  tracePoints(context, points);
  context.stroke();
}

/** @param {CanvasRenderingContext2D} context @param {LoopPoint[]} points */
function tracePoints(context, points) {
  points.forEach(({ x, y }, index) => (index === 0 ? context.moveTo(x, y) : context.lineTo(x, y)));
}

/** @param {CanvasRenderingContext2D} context @param {number} x @param {number} y @param {number} radius @param {string} colour */
function disc(context, x, y, radius, colour) {
  context.fillStyle = colour;
  context.beginPath();
  context.arc(x, y, radius, 0, 2 * Math.PI);
  context.fill();
}
