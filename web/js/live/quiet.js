// @ts-check
// What a desk says where nothing is wrong and where nothing is to be done.

import { boardFrom, shortPlace } from "./alarms.js";
import { capital, clockText, countInWords, houseClock, plural, timeText } from "../words/format.js";
import { firstStart, heldInWords } from "./hold.js";
import { houseInWords, onScreenInWords } from "../lobby/houses.js";
import { askedOf } from "./ready.js";
import { missingCount, missingInWords } from "./restart.js";
import { chainStands, standingAmongRunning, standingInWords, standsInPicture } from "./standing.js";

/** @typedef {import("./store.js").RunState} RunState */

/** Where no alarm asks for anybody, and none is set aside: what goes on. What stands is never nothing wrong. @param {RunState} state @param {number} [now_s] */
export function quietText(state, now_s = NaN) {
  if (state.stations.every(({ phase }) => phase === "clear")) return "Every house is clear";
  if (chainStands(state)) return standingInWords(state, now_s);
  const stands = standingAmongRunning(state);
  const said = stands ? `${goingOn(state)}; ${stands}` : goingOn(state);
  return stands || !isRunning(state) ? capital(said) : `Nothing wrong: ${said}`;
}

/** @param {RunState} state */
function isRunning({ stations }) {
  return stations.some(({ running }) => running);
}

/** What runs; of a chain that waits for its start what is missing, which is never nothing wrong. @param {RunState} state */
function goingOn({ stations, restart }) {
  const running = stations.filter((station) => station.running).length;
  if (running > 0) return `${countInWords(running)} ${plural(running, "motor")} running`;
  const missing = restart ? missingCount(askedOf(restart)) : 0;
  return `the chain stands, threaded${missing ? `: ${countInWords(missing)} ${plural(missing, "thing")} missing` : ""}`;
}

/** Where nothing has to be done now. @param {RunState} state @param {number} now_s */
export function restText(state, now_s) {
  const { info, stations } = state;
  const clock = houseClock(info);
  const set = setAside(state);
  if (set !== null) return set;
  if (stations.every(({ phase }) => phase === "clear")) return "The run is over: nothing is left to do";
  if (chainStands(state)) return standingRest(state, now_s);
  if (stations.every(({ phase }) => phase === "threaded")) return `Start the motors at ${timeText(clock, firstStart(state), now_s)}`;
  const ends_s = stations.flatMap(({ end_s }) => (end_s !== null && end_s > now_s ? [end_s] : []));
  if (ends_s.length > 0) return `Nothing to do until the end at ${timeText(clock, Math.min(...ends_s), now_s)}`;
  return standingAmongRunning(state) || "Nothing to do now";
}

/** What an alarm leaves to be done; null where none is on. What is shelved is still so, and is looked at again. @param {RunState} state */
function setAside({ alarms, info }) {
  const { heat, groups, shelved } = boardFrom(alarms);
  if (heat.length + groups.filter(({ alarm }) => alarm.level !== "note").length) return "See to the alarm first";
  const [first] = shelved.filter(({ level }) => level !== "note");
  return first ? `Look again by ${clockText(houseClock(info), first.shelved_until_s ?? 0)}: ${shortPlace(first)}` : null;
}

/** The same in one booth, which may have nothing to do where others have; null for all of them. @param {string | null} booth @param {RunState} state @param {number} now_s */
export function restTextIn(booth, state, now_s) {
  return booth === null || setAside(state) !== null || state.prompts.length === 0 ? restText(state, now_s) : `Nothing to do in ${booth} now`;
}

/** What a chain that stands waits for. @param {RunState} state @param {number} now_s */
function standingRest({ info, restart }, now_s) {
  if (!restart) return "Look at the film before anything is started";
  if (!restart.ready) return `Before the chain starts again: ${missingInWords(restart, info)}`;
  if (restart.start_s === null) return "Ready: say when the chain starts again";
  return `Start the motors at ${timeText(houseClock(info), restart.start_s, now_s, true)}`;
}

/** How many houses see the picture, and by how much the start is held. @param {RunState} state @param {number} now_s */
export function housesText(state, now_s) {
  const { stations } = state;
  const standing = stations.filter((station) => standsInPicture(station, state)).length;
  const words = [
    onScreenInWords(stations.map((station) => houseInWords(station, null, state, now_s).state)),
    standing ? `${countInWords(standing)} ${standing === 1 ? "stands" : "stand"} in the picture` : "",
    heldInWords(state),
  ];
  return words.filter(Boolean).join(", ");
}
