// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { boardFrom, todoBeside, wentOffInWords } from "../../../web/js/live/alarms.js";
import { dayClockText, houseClock, timeText } from "../../../web/js/words/format.js";
import { heatFrom, heatInWords } from "../../../web/js/live/heat.js";
import { firstStart, heldInWords, heldSchedule, startOf } from "../../../web/js/live/hold.js";
import { filmInWords, freeEndInWords, lacingInWords, lacingOf } from "../../../web/js/booth/lacing.js";
import { heldRunsInWords, houseLines, standingHouses } from "../../../web/js/lobby/lobby.js";
import { alarmName, linkName, placeName } from "../../../web/js/words/names.js";
import { nextAt } from "../../../web/js/live/next.js";
import { promptsBesideHeat, promptsToShow } from "../../../web/js/live/prompts.js";
import { housesText, quietText, restText } from "../../../web/js/live/quiet.js";
import {
  doneLinks,
  doneStations,
  holdBy,
  holdWords,
  lacingLeft,
  linkRows,
  missingByBooth,
  missingCount,
  missingInWords,
  partOf,
  standAt,
  standOf,
  startIn,
  stationRows,
  touchKey,
} from "../../../web/js/live/restart.js";
import { Caller } from "../../../web/js/live/signals.js";
import { logLines } from "../../../web/js/booth/taps.js";
import { alarm, restartCard, runState, snapshot, station } from "../shows.js";

/** @typedef {import("../../../web/js/wire.js").Alarm} Alarm */

const { film } = snapshot().info;
const standing = { running: false, phase: /** @type {const} */ ("stopped"), rate: 0, started_s: 0, stopped_s: 840 };

/** House 3 has the picture in its gate, House 5 leader. */
function stopped() {
  const stations = [station({ ...standing, count_s: 840, at_s: 840 }), station({ ...standing, id: "h5", ahead_s: 60, count_s: 70, at_s: 840 })];
  return runState({ stations, restart: restartCard() });
}

/** A length of film stays on one line. @param {string} said */
const kept = (said) => said.replace(/ (?=\d|ft|frame)/g, "\u00a0").replace(/^(take out|give)\u00a0/, "$1 ");

/** @param {string} subject @param {Partial<Alarm>} [given] */
const heat = (subject, given) => alarm({ key: `film_heat:${subject}`, kind: "film_heat", subject, ...given });

test("links, houses and alarms are named as people name them, and so is a source", () => {
  const { info } = snapshot();
  assert.equal(linkName(info, "h3>h5"), "House 3 to 5");
  assert.deepEqual(
    ["h5", "h3>h5", "chain", "contact:box"].map((subject) => placeName(info, subject)),
    ["House 5", "House 3 to 5", "the chain", "contacts box"],
  );
  assert.equal(alarmName(info, "reserve_spent:h3>h5"), "reserve spent, House 3 to 5");
  assert.equal(alarmName(info, "feed_silent:contact:box"), "silent feed, contacts box");
});

test("film is counted in feet of the counter and frames, on every gauge", () => {
  assert.equal(filmInWords(film, 53 / 24), kept("3 ft 5 frames"));
  assert.equal(filmInWords(film, -53 / 24), "3\u00a0ft\u00a05\u00a0frames");
  assert.deepEqual(
    [1, 16, 7].map((frames) => filmInWords(film, frames / 24)),
    ["1 frame", "1 ft", "7 frames"].map(kept),
  );
  const wide = { frame_mm: 23.75, speed_m_per_s: 0.57, frames_per_foot: 12.8 };
  assert.deepEqual(
    [30, 51, 64].map((frames) => filmInWords(wide, frames / 24)),
    ["2 ft 4 frames", "4 ft", "5 ft"].map(kept),
  );
  assert.equal(filmInWords({ frame_mm: 7.62, speed_m_per_s: 0.18288, frames_per_foot: 40 }, 2), kept("1 ft 8 frames"));
});

test("a link that stands off is told how much to take out or give, and nobody is told to lace film that runs", () => {
  assert.equal(lacingInWords(film, 0.6, 2, false), kept("take out 14 frames"));
  assert.equal(lacingInWords(film, -0.6, 2, false), kept("give 14 frames"));
  assert.equal(lacingInWords(film, 0.6, 2, true), kept("14 frames"));
  assert.deepEqual(
    [0.2, -0.1, null].map((slack_s) => lacingInWords(film, slack_s, 2, false)),
    ["", "", ""],
  );
});

test("a link with a free end has a dash and nothing to lace, and no end once all film is through", () => {
  const links = snapshot().view.links.map((link) => ({ ...link, slack_s: null, drift: null, slack_var: null }));
  const state = runState({ links, stations: [station({ phase: "clear" }), station({ id: "h5", phase: "tail" })] });
  assert.equal(freeEndInWords(state, 0), "– free end");
  assert.equal(lacingOf(state, 0, 100), "");
  assert.equal(freeEndInWords({ ...state, stations: [station({ phase: "clear" }), station({ id: "h5", phase: "clear" })] }, 0), "–");
  const unseen = [station({ phase: "rolling" }), station({ id: "h5", phase: "threaded" })];
  assert.equal(freeEndInWords({ ...state, stations: unseen }, 0), "– not known");
});

test("film in the light is one call that names every house, the worst first, and comes before all else", () => {
  const trip = alarm({ key: "film_trip:h3", kind: "film_trip", since_s: 0 });
  const all = [trip, heat("h3", { level: "watch", since_s: 1 }), heat("h5", { since_s: 9, cause: trip.key })];
  const board = boardFrom(all);
  assert.deepEqual(
    board.heat.map(({ subject }) => subject),
    ["h5", "h3"],
  );
  assert.deepEqual(
    board.groups.map((group) => group.alarm.key),
    [trip.key],
  );
  assert.deepEqual(heatInWords(board.heat, snapshot().info), {
    todo: "Houses 5 and 3: shut the dousers",
    text: "Film stands in the light in House 5, perhaps in House 3.",
  });
  assert.equal(heatInWords([heat("h3")], snapshot().info).todo, "House 3: shut the douser");
});

test("what the call for light asks for is not asked again beside it", () => {
  const lights = [heat("h3", { text: "House 3: film stands in the light" }), heat("h5", { text: "House 5: film stands in the light" })];
  const todo = "Shut the dousers of Houses 3 and 5. Stop 9; 3 and 5 stand.";
  assert.equal(todoBeside(alarm({ todo }), lights), "Stop 9; 3 and 5 stand.");
  assert.equal(todoBeside(alarm({ todo }), lights.slice(1)), todo);
  assert.equal(todoBeside(alarm({ todo: "Stop the chain." }), []), "Stop the chain.");
});

test("what stops comes before a reserve that is spent, and that before the rest", () => {
  const kinds = ["dark_gate", "reserve_spent", "motor_lost"];
  const alarms = kinds.map((kind, since_s) => alarm({ key: kind, kind, since_s }));
  assert.deepEqual(
    boardFrom(alarms).groups.map((group) => group.alarm.kind),
    [...kinds].reverse(),
  );
});

test("film that may be in the light in several houses calls once", () => {
  const caller = new Caller();
  const nobody = new Set();
  assert.equal(caller.next([heat("h3", { level: "watch" })], nobody, 0), "watch");
  assert.equal(caller.next([heat("h3", { level: "watch" }), heat("h5", { level: "watch" })], nobody, 300), null);
});

test("a chain that stands in the middle of a show says since when and where the picture stands", () => {
  const state = stopped();
  assert.equal(quietText(state), "The chain stands since 7:04: House 3 in the picture");
  assert.equal(restText(state, 900), "Before the chain starts again: House 5: douser not known shut, not ready; House 3 to 5: not read");
  assert.equal(housesText(state, 900), "no house on screen, one stands in the picture");
  const ready = { ...restartCard(), ready: true, stations: [], links: [] };
  assert.equal(restText({ ...state, restart: ready }, 900), "Ready: say when the chain starts again");
  assert.equal(restText({ ...state, restart: { ...ready, start_s: 1000 } }, 900), "Start the motors at 7:06:40");
});

test("what stands while others run is never nothing wrong", () => {
  assert.equal(quietText(runState({ stations: [station(), station({ ...standing, id: "h5" })] })), "One motor running; House 5 stands");
  assert.equal(quietText(runState()), "Nothing wrong: two motors running");
});

test("the lobby is told to bring the lights up where a picture stands, and when it is to go on", () => {
  const state = { ...stopped(), restart: { ...restartCard(), start_s: 1140 } };
  const line = { run: "r", title: "Show", site: null, timezone: "UTC", zero: state.info.zero, demo: false, fault: null };
  const lines = houseLines([{ line, state, schedule: null, now_s: 900 }], "house");
  assert.deepEqual(
    lines.map(({ now, next }) => [now, next]),
    [
      ["stands: lights up", "since 7:04, to go on at 7:09"],
      ["stopped at 7:04", "to go on at 7:09"],
    ],
  );
  assert.equal(standingHouses(lines), "House 3 stands: lights up, to go on at 7:09");
});

test("a house whose failsafe tripped stands, whatever is known of its motor", () => {
  const trip = alarm({ key: "film_trip:h3", kind: "film_trip" });
  const showing = station({ phase: "showing", head_s: 40, lamp: "lit" });
  const state = runState({ alarms: [trip], stations: [showing] });
  const line = { run: "r", title: "Show", site: null, timezone: "UTC", zero: state.info.zero, demo: false, fault: null };
  const now = (/** @type {import("../../../web/js/live/store.js").RunState} */ shown) =>
    houseLines([{ line, state: shown, schedule: null, now_s: 900 }])[0]?.now;
  assert.equal(now(state), "stands: lights up");
  assert.equal(now({ ...state, alarms: [{ ...trip, state: "returned" }] }), "on screen since 6:50");
});

test("a hold makes everything planned later, for as long as the motor has not started", () => {
  const waiting = runState({
    hold_s: 300,
    stations: [station({ phase: "threaded", running: false, started_s: null }), station({ id: "h5", phase: "threaded", running: false, started_s: null })],
  });
  const planned = { house: "", start_s: 0, passes: { head: 40 }, strike_opens_s: -50, strike_closes_s: 25, clear_s: 7100 };
  const schedule = {
    stations: [
      { ...planned, id: "h3" },
      { ...planned, id: "h5" },
    ],
  };
  const held = heldSchedule(schedule, waiting).stations[0];
  assert.deepEqual(held, { ...planned, id: "h3", start_s: 300, passes: { head: 340 }, strike_opens_s: 250, strike_closes_s: 325, clear_s: 7400 });
  assert.equal(firstStart(waiting), 300);
  assert.equal(restText(waiting, -60), "Start the motors at 6:55");
  assert.deepEqual(nextAt(waiting.stations[0] ?? station(), null, startOf(waiting, "h3"), -60), { what: "start in", at_s: 300 });
  const begun = { ...waiting, stations: [station(), ...waiting.stations.slice(1)] };
  assert.deepEqual(
    heldSchedule(schedule, begun).stations.map(({ start_s }) => start_s),
    [0, 300],
  );
  assert.equal(heldInWords(begun), "");
});

test("each run that is held says so in the lobby, by name where there are several", () => {
  const waiting = [station({ phase: "threaded", running: false, started_s: null })];
  const run = (/** @type {number} */ hold_s) => {
    const state = runState({ hold_s, stations: waiting });
    return { line: { run: "r", title: "Show", site: null, timezone: "UTC", zero: state.info.zero, demo: false, fault: null }, state, schedule: null, now_s: 0 };
  };
  assert.deepEqual(heldRunsInWords([run(300)]), ["Held 5 minutes"]);
  assert.deepEqual(heldRunsInWords([run(60), run(0)]), ["Show: held 1 minute"]);
  assert.deepEqual(
    [30, 90, -120].map((hold_s) => heldRunsInWords([run(hold_s)])[0]),
    ["Held 30 s", "Held 1 min 30 s", "2 minutes before the plan"],
  );
  assert.deepEqual(
    [3600, 86400, 5400, -3660].map((hold_s) => heldRunsInWords([run(hold_s)])[0]),
    ["Held 1 hour", "Held 24 hours", "Held 1 hour 30 minutes", "1 hour 1 minute before the plan"],
  );
});

test("a restart card names what is missing in the order of harm, and who has it", () => {
  const { info } = snapshot();
  const card = restartCard();
  assert.equal(missingCount(card), 3);
  assert.equal(missingInWords(card, info), "House 5: douser not known shut, not ready; House 3 to 5: not read");
  const booths = { ...info, stations: info.stations.map((each, place) => ({ ...each, booth: place ? "South" : "North" })) };
  assert.deepEqual(
    missingByBooth(card, booths).map(({ booth }) => booth),
    ["South"],
  );
  const ours = partOf(card, booths, (id) => id === "h3");
  assert.deepEqual([ours.stations.map(({ station: id }) => id), ours.links], [["h3"], []]);
});

test("a restart card never says ready while anything is missing, and says so where its time is past", () => {
  const card = restartCard();
  const ready = { ...card, ready: true, stations: [], links: [] };
  assert.deepEqual(standOf(card, 100), { text: "Three things missing", time: "", after: "" });
  assert.deepEqual(standOf({ ...card, start_s: 160 }, 100), { text: "Three things missing; start in", time: "1:00", after: "" });
  assert.deepEqual(standOf({ ...card, before: "start", start_s: 160 }, 100), { text: "Three things missing", time: "", after: "" });
  assert.deepEqual(standOf({ ...card, start_s: 160 }, 172), { text: "Three things missing, and the start was due", time: "0:12", after: "ago" });
  assert.deepEqual(standOf(ready, 100), { text: "Ready: say when it starts", time: "", after: "" });
  assert.deepEqual(standOf({ ...ready, start_s: 160 }, 100), { text: "Ready: starts in", time: "1:00", after: "" });
  assert.deepEqual(startIn(100.4, 2), { kind: "hold", seconds: 220 });
});

test("a first start is held from when it is to be, or from now once that is past: never to another time in the past", () => {
  const start = { hold_s: 300, start_s: 310 };
  assert.deepEqual(holdBy(start, 1, 200), { kind: "hold", seconds: 360 });
  assert.equal(holdWords(start.start_s, 1, 200), "Hold 1 min");
  const late = holdBy(start, 1, 910);
  assert.equal(start.start_s + (late.seconds ?? 0) - start.hold_s, 910 + 60);
  assert.equal(holdWords(start.start_s, 1, 910), "Start in 1 min");
});

test("a start on another day says the day, and a show that goes on past midnight is still that night's", () => {
  const clock = houseClock(snapshot().info, "en-US");
  assert.deepEqual(
    [300, 6 * 3600 - 1, 86_400].map((t_s) => dayClockText(clock, t_s)),
    ["6:55", "12:49", "6:50 on Sunday 15 March"],
  );
  assert.equal(dayClockText({ ...clock, zero_ms: clock.zero_ms - 9 * 3_600_000 }, 7 * 3600), "4:50");
});

test("a time beyond an hour has its half of the day, one beyond a night its day, and neither where the language counts to 24", () => {
  const clock = houseClock(snapshot().info, "en-US");
  assert.deepEqual(
    [300, 3900, -3900, 12 * 3600, 86_400].map((t_s) => timeText(clock, t_s, 0)),
    ["6:55", "7:55 pm", "5:45 pm", "6:50 am on Sunday 15 March", "6:50 pm on Sunday 15 March"],
  );
  assert.equal(timeText({ ...clock, locale: "de" }, 3900, 0), "19:55");
  assert.equal(timeText(clock, 3900, NaN), "7:55");
});

test("what a card says aloud has the time of its start and no countdown", () => {
  const card = { ...restartCard(), start_s: 160 };
  const ready = { ...card, ready: true, stations: [], links: [] };
  assert.equal(standAt(card, 100, "6:52:40"), "Three things missing; start at 6:52:40");
  assert.equal(standAt(ready, 100, "6:52:40"), "Ready: starts at 6:52:40");
  assert.equal(standAt(ready, 172, "6:52:40"), "Ready: the start was due at 6:52:40");
  assert.equal(standAt({ ...card, start_s: null }, 100, ""), "Three things missing");
});

test("a lamp is asked for only once a start is set, and is missing all the while", () => {
  const stations = restartCard().stations.map((each) => ({
    ...each,
    missing: /** @type {import("../../../web/js/wire.js").StationReady["missing"][number][]} */ (["lamp_lit"]),
  }));
  const card = { ...restartCard(), stations };
  const rows = (/** @type {typeof card} */ shown) => stationRows(shown, new Set(), stopped(), [], 900);
  assert.deepEqual(
    rows(card).map(({ later, touches }) => [later, touches]),
    [
      ["lamp to be lit before the start", []],
      ["lamp to be lit before the start", []],
    ],
  );
  assert.equal(missingCount(card), 3);
  const set = { ...card, start_s: 1000 };
  assert.deepEqual(
    rows(set).map(({ later, touches }) => [later, touches.map(({ label }) => label)]),
    [
      ["", ["Lamp lit"]],
      ["", ["Lamp lit"]],
    ],
  );
});

test("what was touched keeps its place on the card until all of its kind are done", () => {
  const { info } = snapshot();
  const before = restartCard();
  const after = { ...before, stations: before.stations.map((each) => ({ ...each, missing: each.missing.filter((what) => what !== "ready") })) };
  const rows = stationRows(after, new Set([touchKey("h5", "ready")]), stopped(), [], 900);
  assert.deepEqual(
    rows[1]?.touches.map(({ label, isSo }) => [label, isSo]),
    [
      ["Douser shut", false],
      ["Ready", true],
    ],
  );
  assert.deepEqual(doneStations(after, info), []);
  const done = { ...after, stations: after.stations.map((each) => ({ ...each, missing: [] })) };
  assert.deepEqual(doneStations(done, info), ["✓ Houses 3 and 5 ready"]);
  const [first, second] = done.stations;
  assert.ok(first && second);
  assert.deepEqual(doneStations({ ...done, stations: [first, { ...second, missing: ["lamp_lit"] }] }, info), [
    "✓ House 3 ready",
    "House 5 ready; lamp to be lit before the start",
  ]);
});

test("links that are read or laced anew are one line, and none of it while one is past its reserve", () => {
  const { info } = snapshot();
  const links = restartCard().links.map((each) => ({ ...each, known: /** @type {const} */ ("read") }));
  const card = { ...restartCard(), links };
  assert.equal(doneLinks(card, info), "✓ House 3 to 5 read");
  assert.equal(doneLinks({ ...card, links: links.map((each) => ({ ...each, known: "relaced" })) }, info), "✓ House 3 to 5 laced anew");
  assert.equal(lacingLeft(linkRows(card, stopped(), [], 900)), "House 3 to 5: take out 14\u00a0frames");
  const spent = { ...card, links: links.map((each) => ({ ...each, slack_s: 2.4, spent: true })) };
  assert.equal(doneLinks(spent, info), "");
  assert.equal(linkRows(spent, stopped(), [], 900)[0]?.said, "read 2.4 s loose, past the reserve");
  assert.equal(doneLinks(restartCard(), info), "");
});

test("alarms that went off by themselves are counted in words", () => {
  assert.deepEqual([1, 9, 14].map(wentOffInWords), ["One alarm went off by itself", "Nine alarms went off by themselves", "14 alarms went off by themselves"]);
});

test("what is missing at a station is one touch each, and a touch that waits to be sent is not asked for again", () => {
  const state = stopped();
  const zero_ms = Date.parse(state.info.zero);
  const event = { id: "1", t: new Date(zero_ms + 890_000).toISOString(), source: "tap", kind: /** @type {const} */ ("ready"), station: "h5" };
  const lines = logLines([{ event, state: "waiting", reason: "" }], []);
  const [, row] = stationRows(restartCard(), new Set(), state, lines, 900);
  assert.deepEqual(
    row?.touches.map(({ label, done, tapped }) => [label, done.kind, tapped?.state]),
    [
      ["Douser shut", "douser_shut", undefined],
      ["Ready", "ready", "waiting"],
    ],
  );
  const taken = logLines([{ event, state: "taken", reason: "" }], []);
  assert.deepEqual(
    stationRows(restartCard(), new Set(), state, taken, 900)[1]?.touches.map(({ tapped }) => tapped),
    [null, null],
  );
});

test("a link on the card is told of at the station it feeds, with what is assumed and what puts it right", () => {
  const [row] = linkRows(restartCard(), stopped(), [], 900);
  assert.equal(`${row?.name}: ${row?.said}, ${row?.lacing}`, "House 3 to 5: not read; 0.6 s loose assumed, take out 14\u00a0frames");
  assert.deepEqual([row?.station, row?.known, row?.relaced.done], ["h5", false, { kind: "relaced", station: "h5" }]);
});

test("what a stop asks of several houses at one time is one line, and film in the light is asked for once", () => {
  const lamp = (/** @type {string} */ house, /** @type {number} */ due_s) => ({
    key: `shut_lamp h${house}`,
    kind: /** @type {const} */ ("shut_lamp"),
    station: `h${house}`,
    from_s: 0,
    due_s,
    text: `House ${house}: shut down the lamp`,
    until_s: null,
    mark: null,
  });
  const shown = promptsToShow([lamp("10", 100), lamp("3", 102), lamp("5", 200)], 0, "common");
  assert.deepEqual(
    shown.map(({ text, due_s }) => [text, due_s]),
    [
      ["Houses 3 and 10: shut down the lamp", 100],
      ["House 5: shut down the lamp", 200],
    ],
  );
  const douser = { ...lamp("3", 100), kind: /** @type {const} */ ("shut_douser") };
  assert.deepEqual(
    promptsBesideHeat([douser, lamp("3", 100)], [heat("h3")]).map(({ kind }) => kind),
    ["shut_lamp"],
  );
  assert.equal(promptsBesideHeat([douser], []).length, 1);
});

test("film in the light that came at one time is told in film order", () => {
  const { info } = snapshot();
  assert.deepEqual(
    heatFrom([heat("h5"), heat("h3")], info).map(({ subject }) => subject),
    ["h3", "h5"],
  );
});
