// @ts-check
// How wide names are in the type of the page.

const MEASURED_PX = 100;
const KEPT = 5000; // widths: chosen

/** @type {Map<string, number>} */
const widths = new Map();

/** Measures texts of that weight in the type of an element. @param {Element} element @param {number} weight @returns {import("../picture/fit.js").WidthOf} */
export function widthIn(element, weight) {
  const font = `${weight} ${MEASURED_PX}px ${getComputedStyle(element).fontFamily}`;
  return (text) => {
    const key = `${font} ${text}`;
    const known = widths.get(key);
    if (known !== undefined) return known;
    if (widths.size >= KEPT) widths.clear();
    const width = measured(font, text);
    widths.set(key, width);
    return width;
  };
}

/** @param {string} font @param {string} text */
function measured(font, text) {
  const context = (pen ??= document.createElement("canvas").getContext("2d"));
  if (!context) return 0;
  context.font = font;
  return context.measureText(text).width / MEASURED_PX;
}

/** @type {CanvasRenderingContext2D | null} */
let pen = null;
