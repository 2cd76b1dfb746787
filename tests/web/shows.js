// @ts-check
// A small made-up show for the tests: two stations 60 s of film apart.

import { stateAfter } from "../../web/js/live/store.js";

/** @typedef {import("../../web/js/wire.js").Station} Station */

/** @param {Partial<Station>} [given] @returns {Station} */
export function station(given) {
  return {
    id: "h3",
    phase: "rolling",
    running: true,
    started_s: 0,
    stopped_s: null,
    lamp: "out",
    lamp_s: null,
    douser: "unknown",
    at_s: 100,
    count_s: 100,
    rate: 1,
    ahead_s: 0,
    eta_var: [0, 0, 0, 0],
    passes: {},
    head_s: null,
    credits_s: null,
    end_s: null,
    clear_s: null,
    ...given,
  };
}

/** An alarm; its place and what is wrong there are those of its text, as the server tells them. @param {Partial<import("../../web/js/wire.js").Alarm>} [given] @returns {import("../../web/js/wire.js").Alarm} */
export function alarm(given) {
  const { text = "House 3: the motor stopped", todo = "Stop the chain." } = given ?? {};
  const [, place = "", what = text] = /^(?:House (?=.* to .*:))?([^:]*): (.*)$/.exec(text) ?? [];
  return {
    key: "motor_lost:h3",
    kind: "motor_lost",
    subject: "h3",
    level: "act",
    state: "unacknowledged",
    cause: null,
    told: true,
    since_s: 0,
    text,
    todo,
    acked_by: null,
    shelved_until_s: null,
    off_s: null,
    place,
    what,
    names_places: /^(Stop|Shut) /.test(todo),
    ...given,
  };
}

/** @param {Partial<import("../../web/js/live/store.js").RunState>} [given] @returns {import("../../web/js/live/store.js").RunState} */
export function runState(given) {
  const state = stateAfter(null, snapshot());
  if (!state) throw new Error("a snapshot makes a state");
  return { ...state, ...given };
}

/** A chain that stands before a restart: house 3 has said that it is ready. @returns {import("../../web/js/wire.js").RestartCard} */
export function restartCard() {
  return {
    before: "restart",
    ready: false,
    start_s: null,
    stations: [
      { station: "h3", ready_s: 90, ready_by: "Ines", missing: [] },
      { station: "h5", ready_s: null, ready_by: null, missing: ["ready", "douser_shut"] },
    ],
    links: [{ link: "h3>h5", known: "none", slack_s: 0.6, spent: false }],
  };
}

/** @type {import("../../web/js/wire.js").SegmentInfo[]} */
export const segments = [
  { id: "leader", kind: "leader", title: "Head leader", x_s: 0, length_s: 40 },
  { id: "t1", kind: "trailer", title: "One", x_s: 40, length_s: 60 },
  { id: "feature", kind: "feature", title: "Feature", x_s: 100, length_s: 6000 },
];

/** @returns {import("../../web/js/wire.js").Snapshot} */
export function snapshot() {
  return {
    type: "snapshot",
    seq: 7,
    now_s: 100,
    epoch: "a1",
    fault: null,
    warnings: [],
    events: [],
    info: {
      run: "r",
      title: "Show",
      site: null,
      timezone: "America/Chicago",
      zero: "2026-03-14T23:50:00Z",
      speed: 1,
      demo: false,
      film: { frame_mm: 19, speed_m_per_s: 0.456, frames_per_foot: 16 },
      marks: [
        { id: "leader", title: "Head leader", kind: "leader", x_s: 0, cue: false, stations: [] },
        { id: "head", title: "Head", kind: "head", x_s: 40, cue: false, stations: [] },
        { id: "t1", title: "One", kind: "trailer", x_s: 40, cue: true, stations: [] },
        { id: "feature", title: "Feature", kind: "feature", x_s: 100, cue: false, stations: [] },
        { id: "end", title: "End", kind: "end", x_s: 6100, cue: false, stations: [] },
      ],
      segments,
      stations: [
        { id: "h3", house: "3", booth: null, ahead_s: 0, start_s: 0, advertised: null, inputs: {} },
        { id: "h5", house: "5", booth: null, ahead_s: 60, start_s: 0, advertised: null, inputs: {} },
      ],
      links: [{ id: "h3>h5", transit_s: 60, reserve_s: 2 }],
      horizon_s: 600,
      tap_sigma_s: 0.3,
      tap_lag_s: 0.25,
      start: "timers",
      booths: [],
    },
    view: {
      t_s: 100,
      stations: [station(), station({ id: "h5", ahead_s: 60 })],
      links: [{ id: "h3>h5", at_s: 100, slack_s: 0, drift: 0, slack_var: [0.01, 0, 0, 0], reserve_s: 2, gone_s: null }],
      alarms: [],
      prompts: [],
      sources: {},
      hold_s: 0,
      restart: null,
      reports: [],
    },
  };
}
