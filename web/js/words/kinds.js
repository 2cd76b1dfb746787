// @ts-check
// Made by `python -m tests.wire --kinds` of server/timeline: event_kinds.py, alarm_kinds.py and people.py.

/**
 * @typedef {import("../wire.js").ObservedEvent["kind"]} EventKind
 * @typedef {object} EventRow
 * @property {string} words what was seen, without the place
 * @property {"station" | "link" | "source" | "booth" | "chain" | "none"} place
 * @property {string[]} keys what it can say beside its place
 * @property {boolean} of_film whether it is about film and machines
 * @property {"add" | "take_back" | "nothing"} debrief what a correction can do
 */

/** The kinds of event. @type {Record<EventKind, EventRow>} */
export const EVENT_KINDS = {
  chain_start: { words: "all motors started", place: "chain", keys: [], of_film: true, debrief: "add" },
  chain_stop: { words: "all motors stopped", place: "chain", keys: [], of_film: true, debrief: "add" },
  motor_start: { words: "motor started", place: "station", keys: [], of_film: true, debrief: "add" },
  motor_stop: { words: "motor stopped", place: "station", keys: [], of_film: true, debrief: "add" },
  lamp_lit: { words: "lamp lit", place: "station", keys: [], of_film: true, debrief: "add" },
  lamp_out: { words: "lamp out", place: "station", keys: [], of_film: true, debrief: "add" },
  douser_open: { words: "douser open", place: "station", keys: [], of_film: true, debrief: "add" },
  douser_shut: { words: "douser shut", place: "station", keys: [], of_film: true, debrief: "add" },
  mark_pass: { words: "passed", place: "station", keys: ["mark"], of_film: true, debrief: "add" },
  slack_read: { words: "read", place: "link", keys: ["seconds"], of_film: true, debrief: "add" },
  film_trip: { words: "failsafe tripped", place: "station", keys: [], of_film: true, debrief: "add" },
  feed_up: { words: "the source is back", place: "source", keys: ["text"], of_film: false, debrief: "nothing" },
  feed_down: { words: "the source went", place: "source", keys: ["text"], of_film: false, debrief: "nothing" },
  retract: { words: "taken back", place: "none", keys: ["retracts"], of_film: false, debrief: "nothing" },
  ack: { words: "acknowledged", place: "none", keys: ["alarm", "text"], of_film: false, debrief: "take_back" },
  note: { words: "note", place: "none", keys: ["text"], of_film: false, debrief: "add" },
  shelve: { words: "shelved", place: "none", keys: ["alarm", "seconds"], of_film: false, debrief: "take_back" },
  clock_step: { words: "the computer's clock jumped", place: "none", keys: ["seconds"], of_film: false, debrief: "nothing" },
  ready: { words: "ready to start", place: "station", keys: [], of_film: false, debrief: "take_back" },
  relaced: { words: "laced anew", place: "link", keys: ["seconds"], of_film: true, debrief: "add" },
  hold: { words: "the start is set", place: "chain", keys: ["seconds"], of_film: false, debrief: "take_back" },
  report: { words: "reported", place: "station", keys: ["text", "what"], of_film: false, debrief: "nothing" },
  report_over: { words: "seen to", place: "station", keys: ["text", "what"], of_film: false, debrief: "nothing" },
  call: { words: "call", place: "booth", keys: ["text"], of_film: false, debrief: "nothing" },
};

/** What an alarm of each kind is called. @type {Record<string, string>} */
export const ALARM_NAMES = {
  film_trip: "failsafe trip",
  start_missing: "start missing",
  motor_lost: "motor lost",
  film_heat: "film in the light",
  strike_missed: "strike missed",
  strike_unconfirmed: "strike not confirmed",
  dark_gate: "dark gate",
  lamp_lost: "lamp lost",
  douser_heat: "hot douser",
  mark_overdue: "mark overdue",
  reserve_spent: "reserve spent",
  slack_tight: "slack tight",
  slack_loose: "slack loose",
  slack_forecast: "slack forecast",
  misfit: "event that does not fit",
  feed_silent: "silent feed",
  clock_step: "clock step",
  house_report: "report from a house",
  call: "call",
};

/** What can be wrong in a house. @type {Record<import("../wire.js").HouseReport["what"], string>} */
export const TROUBLES = {
  no_picture: "no picture",
  no_sound: "no sound",
  unsteady: "picture unsteady",
  out_of_focus: "out of focus",
  people: "trouble among the people",
  other: "something is wrong",
};

/** How the lobby asks to hold the start, and by how many minutes. */
export const HOLD_ASKED = "Please hold the start 5 minutes";
export const HOLD_ASKED_MIN = 5;
