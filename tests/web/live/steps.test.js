// @ts-check
import assert from "node:assert/strict";
import { test } from "node:test";
import { boothsOf, stepsToDo } from "../../../web/js/live/steps.js";
import { stateAfter } from "../../../web/js/live/store.js";
import { logLines, tapEvent, withTap } from "../../../web/js/booth/taps.js";
import { snapshot } from "../shows.js";

/** @typedef {import("../../../web/js/wire.js").Prompt} Prompt */

/** @param {Prompt["kind"]} kind @param {string} station @param {number} due_s @returns {Prompt} */
const prompt = (kind, station, due_s) => ({
  key: `${kind} ${station}`,
  kind,
  station,
  from_s: due_s - 75,
  due_s,
  text: `${station}: ${kind}`,
  until_s: null,
  mark: null,
});

/** @param {Prompt[]} prompts @param {(string | null)[]} [booths] */
function run(prompts, booths = [null, null]) {
  const state = stateAfter(null, snapshot());
  assert.ok(state);
  const stations = state.info.stations.map((station, place) => ({ ...station, booth: booths[place] ?? null }));
  return { ...state, info: { ...state.info, stations }, prompts };
}

test("the nearest deadline comes first, whatever opens first", () => {
  const state = run([prompt("strike", "h3", 300), prompt("open_douser", "h5", 200), prompt("confirm_head", "h3", 250)]);
  assert.deepEqual(
    stepsToDo(state, [], 100, null).map(({ due_s }) => due_s),
    [200, 250, 300],
  );
});

test("each step is answered with the event that says it was done", () => {
  /** @type {[Prompt["kind"], object][]} */
  const answers = [
    ["start", { kind: "motor_start", station: "h3" }],
    ["strike", { kind: "lamp_lit", station: "h3" }],
    ["open_douser", { kind: "douser_open", station: "h3" }],
    ["confirm_head", { kind: "mark_pass", mark: "head", station: "h3" }],
    ["shut_lamp", { kind: "lamp_out", station: "h3" }],
    ["house_clear", { kind: "motor_stop", station: "h3" }],
    ["intermission", { kind: "douser_shut", station: "h3" }],
  ];
  for (const [kind, done] of answers) assert.deepEqual(stepsToDo(run([prompt(kind, "h3", 200)]), [], 100, null)[0]?.done, [done]);
});

test("a change is ticked off by its own mark, and an intermission by light off the screen, with the lamp where that goes out too", () => {
  const changes = ["flat", "wide"].map((mark) => ({ ...prompt("change", "h3", 200), mark }));
  const steps = stepsToDo(run(changes), [], 100, null);
  assert.deepEqual(
    steps.map(({ done }) => done),
    ["flat", "wide"].map((mark) => [{ kind: "mark_pass", station: "h3", mark, sigma_s: 15 }]),
  );
  assert.equal(new Set(steps.map(({ key }) => key)).size, 2);
  const pause = { ...prompt("intermission", "h3", 200), text: "House 3: intermission: shut the douser, put the lamp out, house lights up" };
  assert.deepEqual(stepsToDo(run([pause]), [], 100, null)[0]?.done, [
    { kind: "douser_shut", station: "h3" },
    { kind: "lamp_out", station: "h3" },
  ]);
});

test("what film asked for as it went by is gone after its time", () => {
  const change = { ...prompt("change", "h3", 200), mark: "flat", until_s: 260 };
  assert.deepEqual(
    [260, 261].map((now_s) => stepsToDo(run([change]), [], now_s, null).length),
    [1, 0],
  );
});

test("motors that all start at once are one step, and those that do not are not", () => {
  const together = run([prompt("start", "h3", 0), prompt("start", "h5", 0)]);
  assert.deepEqual(
    stepsToDo(together, [], -30, null).map(({ done, text }) => [done[0]?.kind, text]),
    [["chain_start", "See that two timers start the motors together"]],
  );
  const apart = run([prompt("start", "h3", 0), prompt("start", "h5", 3)]);
  assert.deepEqual(
    stepsToDo(apart, [], -30, null).map(({ done }) => done[0]?.kind),
    ["motor_start", "motor_start"],
  );
  assert.deepEqual(
    stepsToDo(run([prompt("start", "h5", 0)]), [], -30, null).map(({ done }) => done[0]?.kind),
    ["motor_start"],
  );
});

test("a booth has its own stations to see to, and the start of the chain is everybody's", () => {
  const state = run([prompt("strike", "h3", 200), prompt("strike", "h5", 210)], ["North", "South"]);
  assert.deepEqual(boothsOf(state.info), ["North", "South"]);
  assert.deepEqual(
    stepsToDo(state, [], 150, "South").map(({ done }) => done[0]?.station),
    ["h5"],
  );
  const start = { ...state, prompts: [prompt("start", "h3", 0), prompt("start", "h5", 0)] };
  assert.equal(stepsToDo(start, [], -30, "South")[0]?.done[0]?.kind, "chain_start");
});

test("where a plan names one booth or none there is nothing to filter by", () => {
  assert.deepEqual(boothsOf(run([], [null, null]).info), []);
  assert.deepEqual(boothsOf(run([], ["North", "North"]).info), []);
});

test("a step that was said to be done waits to be seen, until it is taken back or too old to be it", () => {
  const state = run([prompt("strike", "h3", 200)]);
  const lit = tapEvent({ kind: "lamp_lit", station: "h3" }, state.info.zero, { t_s: 150, sigma_s: 0.3 }, "a");
  const taps = withTap([], lit);
  assert.equal(stepsToDo(state, logLines(taps, []), 151, null)[0]?.tapped?.state, "waiting");
  assert.equal(stepsToDo(state, logLines([], [lit]), 151, null)[0]?.tapped?.state, "taken");
  assert.equal(stepsToDo(state, logLines(taps, []), 271, null)[0]?.tapped, null);
  const back = tapEvent({ kind: "retract", retracts: "a" }, state.info.zero, { t_s: 152, sigma_s: 0.3 }, "b");
  assert.equal(stepsToDo(state, logLines([], [lit, back]), 153, null)[0]?.tapped, null);
  const other = tapEvent({ kind: "lamp_lit", station: "h5" }, state.info.zero, { t_s: 150, sigma_s: 0.3 }, "c");
  assert.equal(stepsToDo(state, logLines([], [other]), 151, null)[0]?.tapped, null);
});
