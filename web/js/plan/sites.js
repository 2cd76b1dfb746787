// @ts-check
// Site files: what is one, and what is said of those that are kept.

import { plural } from "../words/format.js";

const MOST_BYTES = 200_000;

/** Whether a dropped file is meant as a site. @param {string} name @param {string} text */
export function isSite(name, text) {
  return /\.site\.toml$/i.test(name) || /^\s*format\s*=\s*["']festoon-site\//m.test(text);
}

/** The text of a dropped site; null where what was dropped is something else. Throws one sentence where it is too large. @param {Pick<File, "name" | "size" | "text">[]} files */
export async function siteFrom(files) {
  const [file] = files;
  if (!file || files.length > 1 || !/\.toml$/i.test(file.name)) return null;
  const named = /\.site\.toml$/i.test(file.name);
  if (file.size > MOST_BYTES) {
    if (!named) return null;
    throw new Error(`${file.name} has ${Math.ceil(file.size / 1000)} kB; a site file has at most ${MOST_BYTES / 1000}.`);
  }
  const text = await file.text();
  return isSite(file.name, text) ? { name: file.name, text } : null;
}

/** @param {import("../wire.js").SiteFault} fault */
export function faultInWords({ line, text }) {
  return line ? `Line ${line}: ${text}` : text;
}

/** What a site has: `9 houses, 12 measured paths`. @param {{houses: number, paths: number}} site */
export function siteInWords({ houses, paths }) {
  return `${houses} ${plural(houses, "house")}, ${paths} measured ${plural(paths, "path")}`;
}

/** How many people there are, as it was typed; null where that is not asked, undefined where it is no such number. @param {string} typed @returns {number | null | undefined} */
export function crewFrom(typed) {
  if (typed.trim() === "") return null;
  const crew = /^\s*\d{1,3}\s*$/.test(typed) ? Number(typed) : 0;
  return crew >= 1 && crew <= MOST_PEOPLE ? crew : undefined;
}

export const MOST_PEOPLE = 200;
