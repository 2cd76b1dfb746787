// @ts-check
// What the overview makes of what sites told.

import assert from "node:assert/strict";
import { test } from "node:test";
import { follow } from "../../../web/js/archive/follow.js";
import { byKind, byMonth, bySite, lastYear } from "../../../web/js/archive/months.js";
import { countInWords, merged, rowsOf } from "../../../web/js/archive/overview.js";

const NOW = Date.parse("2026-03-14T20:00:00Z");

/** @param {string} name @param {string | null} [heard] */
function site(name, heard = "2026-03-14T19:59:58Z") {
  return { site: name, url: `${name}.example`, heard, waiting: 0 };
}

/** @param {string} name @param {Partial<import("../../../web/js/archive/overview.js").Picture>} [picture] */
function run(name, picture = {}) {
  const alarms = { act: 0, watch: 0, note: 0 };
  const quiet = { format: 1, title: `Show at ${name}`, timezone: "UTC", demo: false, state: "running", fault: null, warnings: [], alarms };
  const places = { light: [], spent: [], dark: [], stands: [], worst: [], stations: [{ house: "1", phase: "showing" }] };
  return { run: `${name}:a`, site: name, local: "a b", picture: { ...quiet, ...places, ...picture } };
}

/** @param {import("../../../web/js/archive/overview.js").Row[]} rows @param {number} [index] */
function nth(rows, index = 0) {
  const row = rows[index];
  assert.ok(row);
  return row;
}

/** @param {Record<string, any>} lines @returns {import("../../../web/js/archive/overview.js").Message} */
function all(lines) {
  return { type: "all", now: null, age_s: null, lines, gone: [], trouble: null };
}

test("runs stand worst first: light, spent, dark, standing, any act, not heard of, watch, quiet, sites without one", () => {
  const worst = [{ level: /** @type {const} */ ("act"), text: "Look", todo: "Do" }];
  const told = all({
    ...Object.fromEntries(["a", "b", "c", "d", "e", "f", "g", "h", "i"].map((name) => [`site ${name}`, site(name)])),
    "site f": site("f", "2026-03-14T19:00:00Z"),
    "a:a": run("a"),
    "b:a": run("b", { alarms: { act: 0, watch: 2, note: 0 }, worst: [{ level: "watch", text: "Going that way", todo: "" }] }),
    "c:a": run("c", { stands: ["House 2"] }),
    "d:a": run("d", { alarms: { act: 1, watch: 0, note: 0 }, worst }),
    "e:a": run("e", { dark: ["House 1"] }),
    "f:a": run("f"),
    "g:a": run("g", { spent: ["House 1 to 2"] }),
    "h:a": run("h", { light: ["House 1"] }),
  });
  const rows = rowsOf(merged(new Map(), told), NOW);
  assert.deepEqual(
    rows.map((row) => row.site),
    ["h", "g", "e", "c", "d", "f", "b", "a", "i"],
  );
  assert.deepEqual(
    rows.map((row) => row.level),
    ["act", "act", "act", "act", "act", "", "watch", "", ""],
  );
  assert.deepEqual(nth(rows, 1).wrong, ["Reserve spent: House 1 to 2"]);
  assert.deepEqual([nth(rows, 4).wrong, nth(rows, 4).todo], [["Look"], "Do"]);
  assert.match(nth(rows, 5).silent, /^Not heard of since /);
  assert.equal(nth(rows, 7).state, "Running, on screen in 1 of 1 house");
  assert.equal(nth(rows, 7).wall, "a.example/wall?run=a%20b");
  assert.deepEqual(countInWords(rows), ["5 runs need somebody now", "Nothing is known of 1 of 9 sites", "8 live runs of 9 sites"]);
});

test("a run is quiet only while it is heard of and has nothing to say, and stands after those that have", () => {
  const note = { alarms: { act: 0, watch: 0, note: 1 }, worst: [{ level: /** @type {const} */ ("note"), text: "Worth knowing", todo: "" }] };
  const told = all({
    ...Object.fromEntries(["a", "b", "c", "d"].map((name) => [`site ${name}`, site(name)])),
    "site d": site("d", "2026-03-14T19:00:00Z"),
    "a:a": run("a"),
    "b:a": run("b", { ...note, state: "over" }),
    "d:a": run("d"),
  });
  assert.deepEqual(
    rowsOf(merged(new Map(), told), NOW).map((row) => [row.site, row.isQuiet]),
    [
      ["d", false],
      ["b", false],
      ["a", true],
      ["c", true],
    ],
  );
});

test("a site that says nothing any more is told so by the time alone", () => {
  const known = merged(new Map(), all({ "site a": site("a"), "a:a": run("a") }));
  assert.equal(nth(rowsOf(known, NOW)).silent, "");
  assert.match(nth(rowsOf(known, NOW + 60_000)).silent, /^Not heard of since/);
  assert.equal(nth(rowsOf(merged(new Map(), all({ "site a": site("a", null) })), NOW)).silent, "Never heard of");
});

test("what a site tells that is no picture hides no other site", () => {
  const bad = [{}, { alarms: null, worst: "x", stations: [null], light: {}, title: 5 }, { worst: [{}], stations: {} }];
  for (const picture of bad) {
    const told = all({ "site a": site("a"), "site b": site("b"), "a:a": { run: "a:a", site: "a", local: "a", picture }, "b:a": run("b") });
    assert.deepEqual(
      rowsOf(merged(new Map(), told), NOW)
        .map((row) => row.site)
        .sort(),
      ["a", "b"],
    );
  }
});

test("what changes is put to what is known, and what has gone is taken away", () => {
  const known = merged(new Map(), all({ "site a": site("a"), "a:a": run("a") }));
  const later = merged(known, { ...all({ "site b": site("b") }), type: "change", gone: ["a:a"] });
  assert.deepEqual([...later.keys()], ["site a", "site b"]);
  assert.deepEqual([...merged(later, all({})).keys()], []);
});

test("alarms are told by month, site and kind, as figures and as bars", () => {
  const months = [
    { month: "2026-02-01", site: "a", runs: 1, hours: 2, alarms: { film_trip: 1 } },
    { month: "2026-03-01", site: "a", runs: 1, hours: 1, alarms: { film_trip: 2, misfit: 5 } },
    { month: "2026-03-01", site: "b", runs: 1, hours: 0, alarms: {} },
  ];
  assert.deepEqual(
    byMonth(months, "en-GB").map(({ name, told }) => [name, told]),
    [
      ["Feb 2026", "0.50 (1 in 2.0 h)"],
      ["Mar 2026", "7.00 (7 in 1.0 h)"],
    ],
  );
  assert.deepEqual(
    bySite(months).map(({ name, told }) => [name, told]),
    [
      ["a", "2.67 (8 in 3.0 h)"],
      ["b", "0, no hours known"],
    ],
  );
  assert.deepEqual(
    byKind(months).map(({ name, value }) => [name, value]),
    [
      ["event that does not fit", 5],
      ["failsafe trip", 3],
    ],
  );
  assert.deepEqual(lastYear(new Date("2026-03-14T20:00:00Z")), { from: "2025-04-01", to: "2026-03-31" });
});

test("where sites are silent it is not said that no run needs anybody", () => {
  const silent = Object.fromEntries(["a", "b", "c"].map((name) => [`site ${name}`, site(name, "2026-03-14T19:00:00Z")]));
  const rows = rowsOf(merged(new Map(), all({ ...silent, "a:a": run("a"), "b:a": run("b"), "c:a": run("c") })), NOW);
  assert.deepEqual(countInWords(rows), ["Nothing is known of 3 of 3 sites", "3 live runs of 3 sites"]);
});

test("what one site tells in another way hides no other, and is told as not known", () => {
  const other = /** @type {any} */ ({ ...run("b"), picture: null });
  const told = all({ "site a": site("a"), "site b": site("b"), "site c": site("c"), "a:a": run("a"), "b:a": other, "c:a": run("c", { format: 2 }) });
  const rows = rowsOf(merged(new Map(), told), NOW);
  assert.deepEqual(
    rows.map((row) => [row.site, row.state]),
    [
      ["b", "Not known here"],
      ["c", "Not known here"],
      ["a", "Running, on screen in 1 of 1 house"],
    ],
  );
});

test("a source that the browser gave up is made anew, each time later, until it is heard again", () => {
  const sources = /** @type {any[]} */ ([]);
  const waits = /** @type {number[]} */ ([]);
  const open = () => {
    const source = /** @type {any} */ ({ readyState: 2, close: () => {} });
    sources.push(source);
    return source;
  };
  const wait = (/** @type {() => void} */ then, /** @type {number} */ wait_ms) => {
    waits.push(wait_ms);
    then();
  };
  const taken = /** @type {unknown[]} */ ([]);
  follow("/api/overview", (message) => taken.push(message), open, wait);
  for (let turn = 0; turn < 7; turn++) sources[turn].onerror();
  assert.deepEqual(waits, [1000, 2000, 4000, 8000, 16000, 30000, 30000]);
  sources[7].onmessage("heard");
  sources[7].readyState = 0;
  sources[7].onerror();
  assert.deepEqual([taken, sources.length], [["heard"], 8]);
  sources[7].readyState = 2;
  sources[7].onerror();
  assert.equal(waits.at(-1), 1000);
});
