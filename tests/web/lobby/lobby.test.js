// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { changeInWords, looked, memoryAt, noMemory } from "../../../web/js/lobby/changes.js";
import { clockText, houseClock } from "../../../web/js/words/format.js";
import { clocksOf, houseLines, nextInWords, orderFrom, runNames, showingInWords, standingHouses, toTellPeople } from "../../../web/js/lobby/lobby.js";
import { printedAt, sheetRows } from "../../../web/js/lobby/sheet.js";
import { stateAfter } from "../../../web/js/live/store.js";
import { restartCard, snapshot, station } from "../shows.js";

/** @param {import("../../../web/js/wire.js").Station[]} stations @param {Record<string, import("../../../web/js/wire.js").StationInfo["inputs"][string]>} [inputs] */
function run(stations, inputs = {}) {
  const state = stateAfter(null, snapshot());
  assert.ok(state);
  const info = { ...state.info, stations: state.info.stations.map((named) => ({ ...named, inputs })) };
  const line = { run: "r", title: "Show", site: null, timezone: "UTC", zero: info.zero, demo: false, fault: null };
  return { line, state: { ...state, info, stations }, schedule: null, now_s: 100 };
}

test("houses stand by their start, whatever their order in the chain", () => {
  const lines = houseLines([run([station({ head_s: 900 }), station({ id: "h5", head_s: 300 })])]);
  assert.deepEqual(
    lines.map(({ house }) => house),
    ["5", "3"],
  );
  assert.equal(nextInWords(lines), "Next: House 5 starts in 3 min");
});

test("where nothing more is heard nothing is counted down: what is to come stands with its time", () => {
  const made = run([station({ head_s: 900 }), station({ id: "h5", phase: "showing", head_s: 40, lamp: "lit", credits_s: 700, end_s: 1000 })]);
  const lines = houseLines([made], "house", true);
  const at = (/** @type {number} */ t_s) => clockText(houseClock(made.state.info), t_s);
  assert.deepEqual(
    lines.map(({ now, next }) => [now, next]),
    [
      [`starts ${at(900)}`, ""],
      [`on screen since ${at(40)}`, `lets out ${at(1000)}`],
    ],
  );
  assert.equal(nextInWords(lines, true), `Next: House 5 has credits at ${at(700)}`);
});

test("a house whose lamp's contact says out does not count as on screen", () => {
  const showing = station({ phase: "showing", head_s: 40, end_s: 7000 });
  const lit = station({ id: "h5", phase: "showing", head_s: 40, end_s: 7000, lamp: "lit" });
  const lines = houseLines([run([showing, lit], { lamp: "contact" })]);
  assert.deepEqual(
    lines.map(({ state }) => state),
    ["dark", "showing"],
  );
  assert.equal(showingInWords(lines), "One of two houses on screen");
});

test("the reader may have the houses by their number, their start or when they let out", () => {
  const made = run([station({ head_s: 300, end_s: 9000 }), station({ id: "h5", head_s: 900, end_s: 7000 })]);
  const ids = (/** @type {import("../../../web/js/lobby/lobby.js").Order} */ order) => houseLines([made], order).map(({ house }) => house);
  assert.deepEqual(
    [ids("house"), ids("starts"), ids("lets out")],
    [
      ["3", "5"],
      ["3", "5"],
      ["5", "3"],
    ],
  );
  const tens = {
    ...made,
    state: {
      ...made.state,
      info: { ...made.state.info, stations: made.state.info.stations.map((named) => ({ ...named, house: named.house === "3" ? "10" : "9" })) },
    },
  };
  assert.deepEqual(
    houseLines([tens], "house").map(({ house }) => house),
    ["9", "10"],
  );
  assert.equal(orderFrom("colour"), "starts");
});

/** @param {Partial<import("../../../web/js/wire.js").Station>} given */
const lineOf = (given) => {
  const [line] = houseLines([run([station(given)])]);
  assert.ok(line);
  return line;
};

test("a screen that went dark has been so since its lamp went out, and one that never was lit since the picture came", () => {
  const went = station({ phase: "showing", head_s: 40, end_s: 7000, lamp_s: 1240 });
  const never = station({ id: "h5", phase: "showing", head_s: 40, end_s: 7000, lamp_s: null });
  const said = houseLines([run([went, never], { lamp: "contact" })]).map(({ house, now }) => [house, now]);
  const [came, gone] = [clockText(houseClock(snapshot().info), 40), clockText(houseClock(snapshot().info), 1240)];
  assert.deepEqual(
    new Map(/** @type {[string, string][]} */ (said)),
    new Map([
      ["3", `screen dark since ${gone}`],
      ["5", `screen dark since ${came}`],
    ]),
  );
});

test("a house that came on screen, let out later or went dark since the last look says so", () => {
  const { seen } = looked([lineOf({ head_s: 300, end_s: 7000 })]);
  const change = (/** @type {Partial<import("../../../web/js/wire.js").Station>} */ given) => {
    const line = lineOf(given);
    return changeInWords(line, seen[line.key]);
  };
  assert.equal(change({ head_s: 300, end_s: 7000 }), "");
  assert.equal(change({ head_s: 359, end_s: 7059 }), "");
  assert.equal(change({ head_s: 480, end_s: 7180 }), "was to start 6:55");
  assert.equal(change({ phase: "showing", head_s: 300, end_s: 7000 }), "came on screen");
  const showing = looked([lineOf({ phase: "showing", head_s: 300, end_s: 7000 })]).seen;
  const later = lineOf({ phase: "showing", head_s: 300, end_s: 7180 });
  assert.equal(changeInWords(later, showing[later.key]), "was to let out 8:46 pm");
  const dark = lineOf({ phase: "showing", head_s: 300, end_s: 7000, douser: "shut" });
  assert.equal(changeInWords(dark, showing[dark.key]), "the screen went dark");
});

test("a change stays marked until it was looked at, or for a quarter of an hour where nobody touches", () => {
  const before = lineOf({ head_s: 300 });
  const after = lineOf({ phase: "showing", head_s: 300 });
  const marked = (/** @type {import("../../../web/js/lobby/changes.js").Memory} */ memory) => changeInWords(after, memory.seen[after.key]) !== "";
  let memory = memoryAt(noMemory(), [before], 0);
  memory = memoryAt(memory, [after], 1000);
  memory = memoryAt(memory, [after], 1000 + 15 * 60_000 - 1);
  assert.equal(marked(memory), true);
  assert.equal(marked(looked([after])), false);
  assert.equal(marked(memoryAt(memory, [after], 1000 + 15 * 60_000)), false);
});

test("what a page shows first is no change, and a house that is gone is forgotten", () => {
  const after = lineOf({ phase: "showing", head_s: 300 });
  const memory = memoryAt(noMemory(), [after], 0);
  assert.equal(changeInWords(after, memory.seen[after.key]), "");
  assert.deepEqual(memoryAt(memory, [], 1).seen, {});
});

test("what was seen outlives the page as text, also where nothing is known of a time", () => {
  const line = lineOf({});
  const { seen } = looked([line]);
  assert.equal(changeInWords(line, JSON.parse(JSON.stringify(seen))[line.key]), "");
});

test("a house on screen says when its credits come, and once they have, since when", () => {
  const doors = (/** @type {number} */ credits_s) => lineOf({ phase: "showing", head_s: 40, credits_s, end_s: 7000 }).doors;
  const clock = houseClock(snapshot().info);
  assert.equal(doors(6700), `credits ${clockText(clock, 6700)}`);
  assert.equal(doors(99), `credits since ${clockText(clock, 99)}`);
  assert.equal(lineOf({ phase: "showing", head_s: 40, end_s: 7000 }).doors, "");
  assert.equal(lineOf({ phase: "tail", credits_s: 50, end_s: 99 }).doors, "");
});

test("what comes next of all the houses may be the credits", () => {
  const [first, second] = [
    station({ phase: "showing", head_s: 40, credits_s: 400, end_s: 700 }),
    station({ id: "h5", phase: "showing", head_s: 40, credits_s: 90, end_s: 800 }),
  ];
  assert.equal(nextInWords(houseLines([run([first, second])])), "Next: House 3 has credits in 5 min");
});

/** A print with an intermission from 1040 to 1640 s of film, at station h3 that runs on time. @param {number} now_s @param {Partial<import("../../../web/js/wire.js").Station>} [given] @param {string} [after] the kind of what follows it */
function withPause(now_s, given = {}, after = "feature") {
  const made = run([station({ phase: "showing", head_s: 40, credits_s: 4000, end_s: 4300, ...given })], { lamp: "contact" });
  const segments = [
    ["leader", "leader", 0],
    ["r1", "feature", 40],
    ["pause", "intermission", 1040],
    ["r2", after, 1640],
    ["credits", "credits", 4000],
  ];
  const info = {
    ...made.state.info,
    segments: segments.map(([id, kind, x_s]) => ({ id: String(id), kind: String(kind), title: String(id), x_s: Number(x_s), length_s: 1 })),
    marks: segments.map(([id, kind, x_s]) => ({ id: String(id), kind: String(kind), title: String(id), x_s: Number(x_s), cue: false, stations: [] })),
  };
  return { ...made, state: { ...made.state, info }, now_s };
}

/** @param {Parameters<typeof withPause>} given */
const pausing = (...given) => {
  const [line] = houseLines([withPause(...given)]);
  assert.ok(line);
  return line;
};

test("an intermission says until when it is, and its dark screen is none that anybody has to look after", () => {
  const clock = houseClock(snapshot().info);
  const before = pausing(1000, { lamp: "lit" });
  assert.deepEqual([before.state, before.doors], ["showing", `intermission ${clockText(clock, 1040)}`]);
  for (const lamp of /** @type {const} */ (["lit", "out"])) {
    const within = pausing(1200, { lamp, lamp_s: 1038 });
    assert.deepEqual(
      [within.state, within.now, within.doors],
      ["intermission", `intermission until ${clockText(clock, 1640)}`, `credits ${clockText(clock, 4000)}`],
    );
    assert.equal(nextInWords([within]), "Next: House 3 goes on in 7 min");
  }
  assert.equal(pausing(1030, { lamp: "out", lamp_s: 1025 }).state, "intermission");
  assert.equal(pausing(1010, { lamp: "out", lamp_s: 1005 }).state, "dark");
});

test("after an intermission a house is on screen, or dark, since the picture came back", () => {
  const clock = houseClock(snapshot().info);
  assert.equal(pausing(1700, { lamp: "lit", lamp_s: 1600 }).now, `on screen since ${clockText(clock, 1640)}`);
  assert.equal(pausing(1700, { lamp: "out", lamp_s: 1038 }).now, `screen dark since ${clockText(clock, 1640)}`);
  assert.equal(pausing(1700, { lamp: "out", lamp_s: 1690 }).now, `screen dark since ${clockText(clock, 1690)}`);
});

test("where a mark was seen the intermission is by that, and one that nothing follows is none", () => {
  const clock = houseClock(snapshot().info);
  assert.equal(pausing(1200, { passes: { pause: 1100, r2: 1710 } }).now, `intermission until ${clockText(clock, 1710)}`);
  assert.equal(pausing(1200, { lamp: "lit" }, "tail").state, "showing");
});

/** @param {Partial<import("../../../web/js/wire.js").Station>} given @param {number | null} start_s */
function stopped(given, start_s) {
  const made = run([
    station({ phase: "stopped", running: false, rate: 0, stopped_s: 90, count_s: 100, passes: { head: 40 }, head_s: 40, ...given }),
    station({ id: "h5", phase: "stopped", running: false, rate: 0, stopped_s: 90, count_s: 60, ahead_s: 60 }),
  ]);
  return { ...made, state: { ...made.state, restart: { ...restartCard(), start_s } } };
}

test("what stands says when it goes on as soon as somebody has said so", () => {
  const clock = houseClock(snapshot().info);
  assert.equal(standingHouses(houseLines([stopped({}, null)])), "House 3 stands: lights up");
  assert.equal(standingHouses(houseLines([stopped({}, 400)])), `House 3 stands: lights up, to go on at ${clockText(clock, 400)}`);
});

test("the sheet has each house's start, intermission, credits and let-out, by its number", () => {
  const clock = houseClock(snapshot().info);
  const at = (/** @type {number} */ s) => clockText(clock, s, false, true);
  assert.deepEqual(sheetRows([withPause(100)]), [
    { key: "r h3", house: "3", film: "Show", starts: at(40), intermission: `${clockText(clock, 1040)} to ${at(1640)}`, credits: at(4000), out: at(4300) },
  ]);
  const made = run([station({ id: "h5", head_s: 300, end_s: 7000 }), station({ head_s: 900, end_s: 7600 })]);
  assert.deepEqual(
    sheetRows([made]).map(({ house, credits }) => [house, credits]),
    [
      ["3", ""],
      ["5", ""],
    ],
  );
});

test("before the start the sheet has what is planned and held, and nothing of what stands", () => {
  const clock = houseClock(snapshot().info);
  const at = (/** @type {number} */ s) => clockText(clock, s, false, true);
  const made = withPause(0, { phase: "threaded", running: false, rate: 0, started_s: null, head_s: null, credits_s: null, end_s: null });
  const passes = { head: 40, pause: 1040, r2: 1640, credits: 4000, end: 4300 };
  const schedule = { stations: [{ id: "h3", house: "3", start_s: 0, passes, strike_opens_s: 0, strike_closes_s: 0, clear_s: 4400 }] };
  const [row] = sheetRows([{ ...made, schedule, state: { ...made.state, hold_s: 300 } }]);
  assert.deepEqual([row?.starts, row?.intermission, row?.out], [at(340), `${clockText(clock, 1340)} to ${at(1940)}`, at(4600)]);
  const standing = withPause(100, { phase: "stopped", running: false, rate: 0, credits_s: null, end_s: null });
  const [stands] = sheetRows([{ ...standing, schedule }]);
  assert.deepEqual([stands?.starts, stands?.intermission, stands?.credits, stands?.out], [at(40), "", "not known", "not known"]);
});

test("the sheet says by the house's calendar when it was printed", () => {
  assert.equal(printedAt(houseClock(snapshot().info, "en-US"), 600), "7:00 pm on Saturday 14 March");
});

test("two runs in two time zones each say whose time it is, and two in one say nothing of it", () => {
  const [here, there] = [run([station({ phase: "showing", head_s: 40, end_s: 700 })]), run([station({ phase: "showing", head_s: 40, end_s: 700 })])];
  const east = { ...there, state: { ...there.state, info: { ...there.state.info, run: "e", timezone: "America/New_York" } } };
  const hour = (/** @type {string} */ text) => Number(text.split(":")[0]);
  assert.deepEqual(
    clocksOf([here, there]).map(({ town }) => town),
    [""],
  );
  const clocks = clocksOf([here, east]);
  assert.deepEqual(
    clocks.map(({ town }) => town),
    ["Chicago", "New York"],
  );
  assert.equal(hour(clocks[1]?.text ?? "") - hour(clocks[0]?.text ?? ""), 1);
  assert.deepEqual(
    houseLines([here, east])
      .map(({ film }) => film)
      .sort(),
    ["Show (Chicago time)", "Show (New York time)"],
  );
  assert.deepEqual(
    sheetRows([here, here]).map(({ film }) => film),
    ["Show", "Show"],
  );
});

test("where the picture stands or is out people are told what to say, and since when", () => {
  const clock = houseClock(snapshot().info);
  assert.equal(
    toTellPeople(houseLines([stopped({}, null)])),
    `Since ${clockText(clock, 90)}. Tell people: the film has stopped; the booth will say when it goes on`,
  );
  assert.match(toTellPeople(houseLines([stopped({}, 400)])), new RegExp(`it goes on at ${clockText(clock, 400)}$`));
  const dark = run([station({ phase: "showing", head_s: 40, end_s: 700, douser: "shut" })]);
  assert.equal(toTellPeople(houseLines([dark])), "House 3: screen dark. Tell people: the picture is out; the booth knows");
  assert.equal(toTellPeople(houseLines([run([station({ phase: "showing", head_s: 40, end_s: 700, douser: "open" })])])), "");
});

test("a house whose name another run has too says which run it belongs to, and no other does", () => {
  const named = (/** @type {string} */ id, /** @type {string} */ title, /** @type {import("../../../web/js/wire.js").Station[]} */ stations) => {
    const made = run(stations);
    return { ...made, state: { ...made.state, info: { ...made.state.info, run: id, title } } };
  };
  const one = named("one", "Lantern Night", [station({ head_s: 300 }), station({ id: "h5", head_s: 900 })]);
  const said = (/** @type {string} */ title) => houseLines([one, named("two", title, [station({ head_s: 600 })])]);
  const of = (/** @type {string} */ title) => said(title).map(({ house, ofRun }) => `${house} ${ofRun}`);
  assert.deepEqual(of("Harvest"), ["3 Lantern Night", "3 Harvest", "5 "]);
  assert.deepEqual(of("Lantern Night"), ["3 Lantern Night, one", "3 Lantern Night, two", "5 "]);
  assert.equal(nextInWords(said("Harvest")), "Next: House 3 (Lantern Night) starts in 3 min");
  const stands = (/** @type {string} */ title) => {
    const two = named("two", title, [station({ phase: "stopped", running: false, rate: 0, stopped_s: 90, count_s: 100, passes: { head: 40 }, head_s: 40 })]);
    return [standingHouses(houseLines([one, two])), toTellPeople(houseLines([named("two", title, [dark]), one]))].map((text) => text.split(":")[0]);
  };
  const dark = station({ phase: "showing", head_s: 40, end_s: 700, douser: "shut" });
  assert.deepEqual(stands("Harvest"), ["House 3 (Harvest) stands", "House 3 (Harvest)"]);
  assert.deepEqual(stands("Lantern Night"), ["House 3 (Lantern Night, two) stands", "House 3 (Lantern Night, two)"]);
  const long = "Harvest by the Light of a Very Long Line of Lanterns on the Quay";
  assert.deepEqual(stands(long), [`House 3 (${long}) stands`, `House 3 (${long})`]);
});

test("runs are told apart by their films, two of one film by their starts, and only those that start together by their own names", () => {
  const made = run([station()]);
  const named = (/** @type {string} */ id, /** @type {string} */ title, later_s = 0) => {
    const zero = new Date(Date.parse(made.state.info.zero) + later_s * 1000).toISOString();
    return { ...made, now_s: made.now_s - later_s, state: { ...made.state, info: { ...made.state.info, run: id, title, zero } } };
  };
  const names = (/** @type {string} */ title, later_s = 0) => [...runNames([named("one", "Lantern Night"), named("two", title, later_s)]).values()];
  const start = (/** @type {number} */ later_s) => clockText(houseClock(made.state.info), later_s);
  assert.deepEqual(names("Harvest"), ["Lantern Night", "Harvest"]);
  assert.deepEqual(names("Lantern Night", 5400), [`Lantern Night, ${start(0)}`, `Lantern Night, ${start(5400)}`]);
  assert.deepEqual(names("Lantern Night"), ["Lantern Night, one", "Lantern Night, two"]);
});
