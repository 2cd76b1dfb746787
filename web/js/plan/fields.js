// @ts-check
// The rules of a plan as fields: what each is called, its unit, and why it is what it is.

/**
 * @typedef {object} FieldInfo
 * @property {string} path
 * @property {string} label
 * @property {"text" | "number" | "choice"} kind
 * @property {string} [unit]
 * @property {string} why the reason beside the field, and of its default
 * @property {[string, string][]} [choices]
 * @typedef {{title: string, text: string, fields: FieldInfo[]}} FieldGroup
 */

/** @param {string} path @param {string} label @param {string} unit @param {string} why @returns {FieldInfo} */
function number(path, label, unit, why) {
  return { path, label, kind: "number", unit, why };
}

/** @param {string} path @param {string} label @param {[string, string][]} choices @param {string} why @returns {FieldInfo} */
function choice(path, label, choices, why) {
  return { path, label, kind: "choice", choices, why };
}

const MAKER = "The lamphouse's maker says what it really may be.";

/** @type {FieldGroup[]} */
export const RULES = [
  {
    title: "Reserve and motors",
    text: "What two neighbouring machines may differ by before the film between them is taut or on the floor.",
    fields: [
      number(
        "timing.reserve_s",
        "Reserve of every link",
        "s",
        "What a loop can take up or give out, either way. Measure it: hold the loop down, then lift it. A house may have its own.",
      ),
      choice(
        "timing.motors",
        "Motors",
        [
          ["synchronous", "synchronous"],
          ["induction", "induction"],
        ],
        "Synchronous motors follow the mains and keep together. Induction motors slip, each by its own amount.",
      ),
      number(
        "timing.rate_tolerance_ppm",
        "One motor against the others",
        "ppm",
        "How far the speed of one motor is off, as one standard deviation. 50 ppm is a second in five hours and a half.",
      ),
      choice(
        "timing.start",
        "Motors are started",
        [
          ["common", "by one button"],
          ["timers", "each by its own timer"],
          ["hands", "by hands"],
        ],
        "It says how far apart the motors start, and how the booth desk words it.",
      ),
      number("timing.start_spread_s", "Spread of the starts", "s", "How far a start is off, as one standard deviation. It goes out of the reserve at once."),
    ],
  },
  {
    title: "Lamps",
    text: "When a lamp is struck, in seconds before the picture reaches its gate. A house may have its own.",
    fields: [
      number("lamp.earliest_s", "Strike no earlier than", "s before", `A lit lamp heats its shut douser from then on. ${MAKER}`),
      number("lamp.latest_s", "Strike no later than", "s before", "Time to try again, should the lamp not light the first time."),
      number("lamp.douser_limit_s", "Against a shut douser at most", "s", `Longer, and the douser overheats. ${MAKER}`),
      number("lamp.gate_limit_s", "Film may stand in the light", "s", `Film that stands in a lit gate burns. ${MAKER}`),
    ],
  },
  {
    title: "Threading",
    text: "How leader is laced through the chain before the show.",
    fields: [
      number("threading.ends_ft", "Leader at the two ends", "ft", "From the payout to the first gate, and from the last gate onto its take-up."),
      number("threading.spare_percent", "Spare leader", "%", "For splices that fail, and for paths that are longer than the tape said."),
      number("threading.minutes_per_station", "Time for a house", "min", "Chosen for two people who have done it before."),
      number("threading.stretch_ft", "Longest stretch", "ft", "More than this is too hard to pull in one piece."),
      number("threading.stretch_rollers", "Most rollers of a stretch", "", "Every roller adds to the pull at the free end."),
    ],
  },
  {
    title: "Film",
    text: "Only where it is not the usual print.",
    fields: [
      choice(
        "film.gauge",
        "Gauge",
        [
          ["16mm", "16 mm"],
          ["35mm", "35 mm"],
          ["70mm", "70 mm"],
        ],
        "It says how long a frame is.",
      ),
      number("film.frame_rate", "Frames a second", "", "24 but for old and special prints."),
      number("film.shrinkage_percent", "Shrinkage", "%", "A new print has none. Past 0.8 % it is an archive print, which never runs in a chain."),
    ],
  },
  {
    title: "More about starts and stops",
    text: "What the run's estimate takes from the plan.",
    fields: [
      number("timing.start_grace_s", "A start may be late by", "s", "Later than this, an alarm says that the start is missing."),
      number(
        "timing.runup_loss_s",
        "Film lost at a start",
        "s",
        "A motor that takes a second to run up loses half a second of film. It comes off all passes alike.",
      ),
      number("timing.runup_sigma_s", "Difference of the run-ups", "s", "From motor to motor, as one standard deviation."),
      number("timing.coast_s", "Film fed after a stop", "s", "A machine that is switched off runs on for a moment."),
      number("timing.path_tolerance_percent", "Uncertainty of a path", "%", "Of the tape, as one standard deviation. What was learned from a run is surer."),
    ],
  },
  {
    title: "More about what is seen",
    text: "How sure it is what people and contacts report.",
    fields: [
      number("timing.line_tolerance_ppm", "All motors together", "ppm", "The mains drift for all machines alike: that moves times, and spends no reserve."),
      number("timing.rate_walk_ppm_per_sqrt_hour", "Wandering of a motor", "ppm", "How far a motor's speed strays in an hour."),
      number("timing.tap_sigma_s", "Uncertainty of a tap", "s", "A finger is this far off, as one standard deviation."),
      number("timing.tap_lag_s", "A tap comes late by", "s", "People touch after they have seen: this is taken off every tap."),
      number("timing.contact_sigma_s", "Uncertainty of a contact", "s", "Contacts bounce, and are read in turns."),
      number("timing.forecast_horizon_s", "Forecast", "s ahead", "Further ahead than this no alarm says when a reserve will be spent."),
      number(
        "timing.tail_sigma_s",
        "Uncertainty of the tail's length",
        "s",
        "Tails are cut and spliced; it is the same for all houses, because it is one film.",
      ),
    ],
  },
];

/** Who can tell of a thing. @type {[string, string][]} */
export const TELLERS = [
  ["contact", "a contact"],
  ["tap", "somebody's tap"],
  ["none", "nobody"],
];

/** What is told of at a station. @type {[string, string][]} */
export const TOLD = [
  ["motor", "Motor"],
  ["lamp", "Lamp"],
  ["douser", "Douser"],
  ["cue", "Cue"],
];
