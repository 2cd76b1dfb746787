// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { askedFrom, beginAddress, partFrom, planAddress } from "../../../web/js/plan/address.js";
import { KnownPaths, addHouse, moveHouse, pathIn, renamedHouse, takeOutHouse } from "../../../web/js/plan/chain.js";
import { placeAt } from "../../../web/js/plan/dragging.js";
import { keepUnsaved, unsavedOf } from "../../../web/js/plan/keeping.js";
import { addMark, addPiece, lengthKey, markIn, takeOutPiece } from "../../../web/js/plan/print.js";
import { heights, momentText, plannedLines, spanOf, tickEvery, timeTable } from "../../../web/js/plan/times.js";
import { addStopGroup, stopsWith } from "../../../web/js/plan/stops.js";
import { written } from "../../../web/js/plan/view.js";
import { fileName, planFrom, savedInWords, startInWords, stretchInWords, threadingOf, verdictOf, whenInWords } from "../../../web/js/plan/words.js";
import { chainOf, checkedPlan, planView } from "./plans.js";
import { snapshot } from "../shows.js";

const FOUR = chainOf([
  ["3", null],
  ["1", 40],
  ["2", 50],
  ["5", 200],
]);

/** @param {Record<string, NonNullable<import("../../../web/js/wire.js").PlanFault["meant"]>>} values */
function knowing(values) {
  const known = new KnownPaths();
  known.learn(planView(values));
  return known;
}

test("a new house has the next number, and is told of as the last one is", () => {
  const values = { ...FOUR, "stations[3].booth": "North", "stations[3].inputs.motor": "contact" };
  assert.deepEqual(addHouse(planView(values), new KnownPaths()), [
    { do: "add", list: "stations", at: 4, values: { id: "h6", house: "6", booth: "North", inputs: { motor: "contact" } } },
  ]);
  const [first] = addHouse(planView({}), new KnownPaths());
  assert.deepEqual(first, {
    do: "add",
    list: "stations",
    at: 0,
    values: { id: "h1", house: "1", inputs: { motor: "tap", lamp: "tap", douser: "tap", cue: "tap" } },
  });
});

test("a house that moves leaves paths behind that nobody has measured, and finds those that are known", () => {
  const edits = moveHouse(planView(FOUR), 1, 2, knowing(FOUR));
  assert.deepEqual(edits, [
    { do: "move", list: "stations", at: 1, to: 2 },
    { do: "set", path: "stations[1].path_ft", value: null },
    { do: "set", path: "stations[1].rollers", value: null },
    { do: "set", path: "stations[2].path_ft", value: 50 },
    { do: "set", path: "stations[2].rollers", value: 5 },
    { do: "set", path: "stations[3].path_ft", value: null },
    { do: "set", path: "stations[3].rollers", value: null },
  ]);
});

test("a house that becomes the first has no path, and a known one comes back with its unit", () => {
  const known = knowing(FOUR);
  known.learn(
    planView({
      ...chainOf([
        ["9", null],
        ["3", null],
      ]),
      "stations[1].path_m": 12.5,
    }),
  );
  assert.deepEqual(
    moveHouse(
      planView(
        chainOf([
          ["3", null],
          ["9", 70],
        ]),
      ),
      1,
      0,
      known,
    ),
    [
      { do: "move", list: "stations", at: 1, to: 0 },
      { do: "set", path: "stations[0].path_ft", value: null },
      { do: "set", path: "stations[0].rollers", value: null },
      { do: "set", path: "stations[1].path_m", value: 12.5 },
      { do: "set", path: "stations[1].rollers", value: null },
    ],
  );
});

test("a house that is taken out is named nowhere any more", () => {
  const values = { ...FOUR, "marks[0].houses": ["1", "2"], "marks[1].houses": ["1"], "stop_groups[0].stations": ["h1", "h2", "h5"] };
  assert.deepEqual(takeOutHouse(planView(values), 1, knowing(FOUR)).slice(-2), [
    { do: "set", path: "marks[0].houses", value: ["2"] },
    { do: "set", path: "stop_groups[0].stations", value: ["h2", "h5"] },
  ]);
});

test("a house with another name is followed by what names it; an id that somebody chose stays", () => {
  const values = { ...FOUR, "stations[1].house": "12", "marks[0].houses": ["1", "2"], "stop_groups[0].stations": ["h1", "h2"] };
  assert.deepEqual(renamedHouse(planView(values), 1, "1", new KnownPaths()), [
    { do: "set", path: "stations[1].id", value: "h12" },
    { do: "set", path: "stop_groups[0].stations", value: ["h12", "h2"] },
    { do: "set", path: "marks[0].houses", value: ["12", "2"] },
  ]);
  assert.deepEqual(renamedHouse(planView({ ...values, "stations[1].id": "balcony" }), 1, "1", new KnownPaths()), [
    { do: "set", path: "marks[0].houses", value: ["12", "2"] },
  ]);
  assert.deepEqual(renamedHouse(planView({ ...FOUR, "stations[1].house": "5" }), 1, "1", new KnownPaths())[0], {
    do: "set",
    path: "stations[1].id",
    value: "h5-2",
  });
  assert.deepEqual(renamedHouse(planView(FOUR), 1, "1", new KnownPaths()), []);
});

test("a path in the other unit is as long", () => {
  assert.deepEqual(pathIn(planView(FOUR), 1, "path_m"), [{ do: "set", path: "stations[1].path_m", value: 12.192 }]);
  assert.deepEqual(
    pathIn(
      planView({
        ...chainOf([
          ["1", null],
          ["2", null],
        ]),
        "stations[1].path_m": 12.192,
      }),
      1,
      "path_ft",
    ),
    [{ do: "set", path: "stations[1].path_ft", value: 40 }],
  );
  assert.deepEqual(pathIn(planView({ "stations[0].path_ft": "forty" }), 0, "path_m"), [{ do: "set", path: "stations[0].path_m", value: "forty" }]);
  assert.deepEqual(pathIn(planView(FOUR), 0, "path_m"), []);
});

test("pieces come where they belong, and take their marks along when they go", () => {
  const print = {
    "print[0].id": "leader",
    "print[0].kind": "leader",
    "print[1].id": "f",
    "print[1].kind": "feature",
    "print[2].id": "tail",
    "print[2].kind": "tail",
  };
  const { edits, at } = addPiece(planView(print));
  assert.deepEqual([edits, at], [[{ do: "add", list: "print", at: 2, values: { id: "credits", kind: "credits", title: "Credits" } }], 2]);
  const rest = {
    "print[0].id": "leader",
    "print[0].kind": "leader",
    "print[1].id": "t",
    "print[1].kind": "trailer",
    "print[2].id": "x",
    "print[2].kind": "tail",
  };
  assert.equal(addPiece(planView(rest)).at, 2);
  assert.equal(addPiece(planView({})).at, 0);
  const marked = {
    ...print,
    "marks[0].id": "m",
    "marks[0].after": "f",
    "marks[1].id": "n",
    "marks[1].after": "tail",
    "marks[2].id": "o",
    "marks[2].after": "f",
  };
  assert.deepEqual(takeOutPiece(planView(marked), 1), [
    { do: "remove", list: "marks", at: 2 },
    { do: "remove", list: "marks", at: 0 },
    { do: "remove", list: "print", at: 1 },
  ]);
  assert.deepEqual(addMark(planView(marked)), [{ do: "add", list: "marks", at: 3, values: { id: "mark", after: "f" } }]);
  assert.equal(lengthKey(planView({ "print[0].feet": 60 }), "print[0]"), "feet");
  assert.equal(lengthKey(planView({}), "print[0]"), "duration");
});

test("a mark is for all houses, or for those that are chosen", () => {
  assert.deepEqual(markIn(planView(FOUR), 0, "1", false), [{ do: "set", path: "marks[0].houses", value: ["3", "2", "5"] }]);
  const some = { ...FOUR, "marks[0].houses": ["3", "2", "5"] };
  assert.deepEqual(markIn(planView(some), 0, "1", true), [{ do: "set", path: "marks[0].houses", value: null }]);
  assert.deepEqual(markIn(planView({ ...FOUR, "marks[0].houses": ["3"] }), 0, "3", false), [{ do: "set", path: "marks[0].houses", value: null }]);
});

test("a group of motors has two houses that are in no other, and keeps them in film order", () => {
  const grouped = { ...FOUR, "stop_groups[0].stations": ["h3", "h2"] };
  assert.deepEqual(addStopGroup(planView(grouped)), [{ do: "add", list: "stop_groups", at: 1, values: { stations: ["h1", "h5"] } }]);
  assert.deepEqual(addStopGroup(planView({ ...grouped, "stop_groups[1].stations": ["h1"] })), []);
  assert.deepEqual(stopsWith(planView(grouped), 0, "h1", true), [{ do: "set", path: "stop_groups[0].stations", value: ["h3", "h1", "h2"] }]);
  assert.deepEqual(stopsWith(planView(grouped), 0, "h3", false), [{ do: "set", path: "stop_groups[0].stations", value: ["h2"] }]);
});

test("what is typed is a number where the key wants one and it is one, and is never lost", () => {
  assert.deepEqual(
    ["61", " 61.50 ", "61,5", "61 ft", "", "1e3"].map((text) => written(text, "number")),
    [61, 61.5, "61,5", "61 ft", null, "1e3"],
  );
  assert.deepEqual(
    ["7", " ", "House "].map((text) => written(text, "text")),
    ["7", null, "House "],
  );
});

test("what holds where a plan says nothing is its own rule, then the format's", () => {
  const plan = planView({ ...FOUR, "timing.start": "hands", "timing.motors": "induction", "lamp.latest_s": 20 });
  assert.equal(plan.usualAt("stations[1].reserve_s"), 2);
  assert.equal(plan.usualAt("stations[1].latest_s"), 20);
  assert.equal(plan.usualAt("stations[1].inputs.motor"), "contact");
  assert.equal(plan.usualAt("timing.start_spread_s"), 0.6);
  assert.equal(plan.usualAt("timing.rate_tolerance_ppm"), 3000);
  assert.equal(plan.usualAt("title"), undefined);
  assert.equal(plan.houseName(0), "House 3");
  assert.equal(planView({ "stations[0].id": "x" }).houseName(0), "House number 1 of the chain");
});

test("while the text cannot be read the fields keep what was last read, and are locked", () => {
  const plan = planView(FOUR, { values: null });
  assert.equal(plan.locked, true);
  assert.deepEqual([plan.count("stations"), plan.house(3)], [4, "5"]);
});

test("what is dragged goes before the first entry whose middle is below it", () => {
  const boxes = [0, 100, 200].map((top) => ({ top, bottom: top + 100 }));
  assert.deepEqual(
    [-5, 120, 160, 260].map((y) => placeAt(y, boxes, 0)),
    [0, 0, 1, 2],
  );
  assert.deepEqual(
    [40, 60, 260].map((y) => placeAt(y, boxes, 1)),
    [0, 1, 2],
  );
});

test("an address says which plan, what a new one begins with, and which part", () => {
  assert.deepEqual(["", "?plan=a", "?new=empty", "?new=soup"].map(askedFrom), [null, { plan: "a" }, { begin: "empty" }, null]);
  assert.deepEqual([planAddress("a b"), beginAddress("file")], ["/plan?plan=a+b", "/plan?new=file"]);
  assert.deepEqual(["", "#rules", "#soup"].map(partFrom), ["chain", "rules", "chain"]);
});

test("what is not saved is kept by plan, and a store that is full or forbidden is no trouble", () => {
  /** @type {Map<string, string>} */
  const shelf = new Map();
  const store = {
    getItem: (/** @type {string} */ key) => shelf.get(key) ?? null,
    setItem: (/** @type {string} */ key, /** @type {string} */ value) => void shelf.set(key, value),
    removeItem: (/** @type {string} */ key) => void shelf.delete(key),
  };
  keepUnsaved(store, "a", { text: "x", base: "b", name: "" });
  assert.deepEqual(unsavedOf(store, "a"), { text: "x", base: "b", name: "" });
  assert.equal(unsavedOf(store, "b"), null);
  keepUnsaved(store, "a", null);
  assert.equal(unsavedOf(store, "a"), null);
  shelf.set("festoon.plan.a", "no json");
  assert.equal(unsavedOf(store, "a"), null);
  const full = {
    ...store,
    setItem: () => {
      throw new Error("full");
    },
  };
  assert.doesNotThrow(() => keepUnsaved(full, "a", { text: "x", base: "b", name: "" }));
});

test("the verdict says whether there is a plan, whether it works, and how much is to be looked at", () => {
  const fault = { path: "title", line: 1, about: "Title", text: "Write it.", meant: null };
  const finding = { code: "x", level: /** @type {const} */ ("warning"), about: "House 1", stations: [], text: "t.", cause: "c.", remedy: "r." };
  assert.equal(verdictOf(checkedPlan({}, { values: null })).text, "The text cannot be read as a plan.");
  assert.equal(verdictOf(checkedPlan({}, { faults: [fault] })).text, "Not a whole plan yet: 1 thing to fill in or mend.");
  assert.equal(verdictOf(checkedPlan({}, { findings: [finding, { ...finding, level: "fault" }] })).text, "This chain does not work: 1 thing to change.");
  assert.equal(verdictOf(checkedPlan({}, { findings: [finding, finding] })).text, "This chain can run, with 2 things to look at.");
  assert.equal(verdictOf(checkedPlan({}, { findings: [{ ...finding, level: "note" }] })).text, "Nothing is found against this chain.");
});

test("what must be threaded is said with people, minutes and the house's clock", () => {
  const { info } = snapshot();
  const stretch = { from_house: "3", to_house: "5", path_ft: 307.6, rollers: 36, effort: "hard" };
  const lacing = { leader_ft: 1290.2, crew: 2, minutes: 50.2, begin_s: -3600, ready_s: -300, stretches: [stretch, stretch] };
  const said = threadingOf(checkedPlan({}, { info, lacing }));
  assert.match(said, /^Thread 1,291 ft of leader in two stretches\. Two people take 51 minutes: begin by .*, to be ready at .*\.$/);
  assert.match(threadingOf(checkedPlan({}, { info, lacing: { ...lacing, crew: 1, stretches: [stretch] } })), /ft of leader\. One person takes /);
  assert.equal(stretchInWords(stretch), "House 3 to 5, 308 ft over 36 rollers: hard");
});

test("when something was saved is said by the house's clock, with its day where that is not today", () => {
  const now = Date.parse("2026-03-15T03:00:00Z");
  assert.match(whenInWords("2026-03-15T02:00:00Z", "America/Chicago", now), /^21:00$/);
  assert.match(whenInWords("2026-03-14T02:00:00Z", "America/Chicago", now), /Fri 13 Mar$/);
  assert.doesNotThrow(() => whenInWords("2026-03-14T02:00:00Z", "Nowhere", now));
  assert.equal(savedInWords(null, true, "UTC"), "Not saved yet");
  assert.equal(savedInWords({ saved_at: "2026-03-14T02:00:00Z", saved_by: "Ada" }, true, "UTC"), "Changed since it was saved");
  const line = {
    name: "a",
    title: "A",
    site: "",
    zero: "2026-03-15T04:50:00Z",
    timezone: "America/Chicago",
    houses: [],
    faults: 0,
    saved_at: "",
    saved_by: "",
    in_use: false,
  };
  assert.match(startInWords(line), /^Sat 14 March 2026, 23:50$/);
  assert.equal(startInWords({ ...line, zero: null }), "");
});

test("a dropped file that is no plan is told as what it is", async () => {
  const file = (/** @type {string} */ name, /** @type {string} */ text, size = text.length) => ({ name, size, text: async () => text });
  assert.deepEqual(await planFrom([file("my show.plan.toml", 'format = "festoon-plan/1"')]), { name: "my show", text: 'format = "festoon-plan/1"' });
  await assert.rejects(planFrom([file("a.events.jsonl", "{}")]), /is a recording of a show, not a plan/);
  await assert.rejects(planFrom([file("a.png", "\uFFFDPNG\0")]), /a.png is no text, so no plan/);
  await assert.rejects(planFrom([file("a.txt", '{"id": 1}')]), /is a recording of a show, not a plan/);
  await assert.rejects(planFrom([file("a.site.toml", 'format = "festoon-site/1"')]), /is not a plan/);
  await assert.rejects(planFrom([file("a.toml", "", 300_000)]), /300 kB; a plan has at most 200/);
  await assert.rejects(planFrom([file("a.toml", ""), file("b.toml", "")]), /One plan at a time/);
  assert.deepEqual([fileName("kept", "X"), fileName("", "Émile's Night"), fileName("", "…")], ["kept.plan.toml", "emiles-night.plan.toml", "plan.plan.toml"]);
});

const STATIONS = ["h3", "h4"].map((id, place) => ({
  id,
  house: id.slice(1),
  start_s: 0,
  passes: { head: 40 + 60 * place, end: 3600 + 60 * place, tail_end: 3700 + 60 * place },
  strike_opens_s: -50 + 60 * place,
  strike_closes_s: 25 + 60 * place,
  clear_s: 3700 + 60 * place,
}));
const SCHEDULE = { film: { frame_mm: 19, speed_m_per_s: 0.456, frames_per_foot: 16 }, stations: STATIONS };

test("the chart shows the start, the whole show or its end, with a minute on either side", () => {
  assert.deepEqual(spanOf(SCHEDULE, "start"), [-110, 160]);
  assert.deepEqual(spanOf(SCHEDULE, "whole"), [-110, 3820]);
  assert.deepEqual(spanOf(SCHEDULE, "end"), [3540, 3820]);
  assert.deepEqual([tickEvery(270, 8), tickEvery(4000, 6), tickEvery(1e6, 2)], [60, 900, 14400]);
});

test("houses are drawn at their film distance; evenly while no path is given", () => {
  const { info } = snapshot();
  const at = (/** @type {number[]} */ ahead) =>
    heights({ ...info, stations: ahead.map((ahead_s, place) => ({ .../** @type {any} */ (info.stations[0]), id: String(place), ahead_s })) });
  assert.deepEqual(at([0, 30, 120]), [0, 0.25, 1]);
  assert.deepEqual(at([0, 0, 0]), [0, 0.5, 1]);
  assert.deepEqual(at([0]), [0]);
});

test("lines and table have the times of the schedule, by house", () => {
  const { info } = snapshot();
  const marks = [{ id: "head", title: "Head", kind: "head", x_s: 10, cue: false, stations: [] }];
  const show = { ...info, timezone: "America/Chicago", zero: "2026-03-15T04:59:00Z", marks, stations: info.stations.slice(0, 2), segments: [] };
  assert.deepEqual(
    plannedLines(show, SCHEDULE)[0]?.points.map(({ t_s }) => t_s),
    [40, 100],
  );
  const { columns, rows } = timeTable(show, SCHEDULE);
  assert.deepEqual(columns, ["Motor starts", "Strike from", "Strike by", "Head", "End", "Clear", "Advertised"]);
  assert.deepEqual(rows[1]?.cells.slice(0, 5), ["23:59:00", "23:59:10", "00:00:25 Sun 15 Mar", "00:00:40 Sun 15 Mar", "01:00:00 Sun 15 Mar"]);
  assert.equal(momentText({ zero_ms: 0, timezone: "UTC", locale: "en-GB" }, 60), "00:01");
});
