// @ts-check
// Names in the room that there is: wrapped, then smaller, then cut in the middle with a sign.

/**
 * @typedef {(text: string) => number} WidthOf how wide a text is, in em
 * @typedef {{width: number, height: number}} Room in pixels
 * @typedef {{text: string, size: number, lines: number}} Print what is written, how large in pixels, in how many lines
 */

export const LINE = 1.06; // from one line of a name to the next, in em: chosen
const STEP = 0.96; // from one size that is tried to the next: chosen
const TAIL = 2; // letters of a name's end that stay: a number of two digits

/** The largest print, from `full` down to `least` pixels, in which a name stands in its room; what does not stand there even so is cut. @param {string} name @param {Room} room @param {number} full @param {number} least @param {WidthOf} widthOf @returns {Print} */
export function fitted(name, room, full, least, widthOf) {
  for (let size = full; size > least; size *= STEP) {
    const lines = linesOf(name, room.width / size, widthOf);
    if (lines * LINE * size <= room.height && name.split(" ").every((word) => widthOf(word) <= room.width / size)) return { text: name, size, lines };
  }
  const most = Math.max(1, Math.floor(room.height / (LINE * least)));
  const text = cutUntil(name, (cut) => linesOf(cut, room.width / least, widthOf) <= most);
  return { text, size: least, lines: linesOf(text, room.width / least, widthOf) };
}

/** A name in one line, cut where it is wider than its room. @param {string} name @param {number} room in em @param {WidthOf} widthOf */
export function inOneLine(name, room, widthOf) {
  return cutUntil(name, (cut) => widthOf(cut) <= room);
}

/** A name without its middle, as long as `stands` lets it be: what tells it from others is at its ends. @param {string} name @param {(cut: string) => boolean} stands */
function cutUntil(name, stands) {
  if (stands(name)) return name;
  for (let kept = name.length - 1; kept > TAIL; kept -= 1) {
    const tail = Math.max(TAIL, Math.floor(kept / 3));
    const cut = `${name.slice(0, kept - tail).trimEnd()}…${name.slice(name.length - tail).trimStart()}`;
    if (stands(cut)) return cut;
  }
  return name.length > TAIL ? `…${name.slice(-TAIL)}` : name;
}

/** In how many lines a text wraps; a word wider than a line is broken. @param {string} text @param {number} width in em @param {WidthOf} widthOf */
function linesOf(text, width, widthOf) {
  let [lines, line] = [1, ""];
  for (const word of text.split(" ")) {
    const longer = line ? `${line} ${word}` : word;
    if (widthOf(longer) <= width) line = longer;
    else {
      lines += (line ? 1 : 0) + Math.max(0, Math.ceil(widthOf(word) / width) - 1);
      line = word;
    }
  }
  return lines;
}
