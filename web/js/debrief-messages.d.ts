// What the server answers about runs that are gone through afterwards, as server/desk/debrief_messages.py has it; tests hold the two together.
// Times are seconds after the run's `zero`, but `zero`, `created`, `arrived`, `last_arrived` and `t`, which are RFC 3339.

import type { Level, ObservedEvent, Phase, RunInfo, Schedule, View } from "./messages.js";

/** `now`: all that is known today. `then`: only what had arrived by the moment that is looked at. */
export type KnownClock = "now" | "then";

export interface Archived {
  at: string;
  by: string;
}

export interface LibraryLine {
  run: string;
  title: string;
  site: string | null;
  plan_name: string;
  timezone: string;
  zero: string;
  day: string;
  created: string;
  stations: string[];
  houses: string[];
  events: number;
  last_arrived: string | null;
  live: boolean;
  archived: Archived | null;
  /** alarms people were told of, by kind; null where they are not counted yet */
  trouble: Record<string, number> | null;
  /** why its plan cannot be read */
  fault: string | null;
}

export interface LibraryAnswer {
  runs: LibraryLine[];
  uncounted: number;
}

export interface RejectedLine {
  line: number;
  text: string;
}

export interface RecordingAnswer {
  id: string;
  rejected: RejectedLine[];
}

export interface Span {
  from_s: number;
  to_s: number;
}

export interface Debrief {
  id: string;
  source: "log" | "recording";
  live: boolean;
  archived: Archived | null;
  info: RunInfo;
  schedule: Schedule;
  span: Span;
  keeps_arrivals: boolean;
  events: number;
  rejected: RejectedLine[];
  version: number;
}

export interface StateAt {
  at_s: number;
  clock: KnownClock;
  version: number;
  view: View;
  last_seq: number | null;
  /** nothing changes by itself before that; null: never */
  next_s: number | null;
}

export interface SeriesPass {
  station: string;
  mark: string;
  planned_s: number;
  expected_s: number | null;
  expected_sd_s: number | null;
  observed_s: number | null;
  believed: boolean;
}

export interface LinkSlack {
  id: string;
  reserve_s: number;
  slack_s: (number | null)[];
  sd_s: (number | null)[];
}

export interface SlackSeries {
  t_s: number[];
  links: LinkSlack[];
}

export interface PhaseChange {
  station: string;
  phase: Phase;
  from_s: number;
}

export interface SeriesAlarm {
  key: string;
  kind: string;
  subject: string;
  level: Level;
  cause: string | null;
  text: string;
  todo: string;
  since_s: number;
  told_s: number;
  act_s: number | null;
  seen_s: number | null;
  seen_by: string | null;
  over_s: number | null;
  lasted_s: number | null;
}

export interface Series {
  clock: KnownClock;
  version: number;
  from_s: number;
  to_s: number;
  passes: SeriesPass[];
  slack: SlackSeries;
  phases: PhaseChange[];
  alarms: SeriesAlarm[];
}

export interface KnownEvent {
  seq: number;
  /** when it counts: a tap's time less its lag */
  at_s: number;
  arrived: string;
  arrived_s: number;
  late_s: number;
  retracted_by: string | null;
  correction: boolean;
  event: ObservedEvent;
}

export interface EventsAnswer {
  version: number;
  events: KnownEvent[];
}

export type Unit = "text" | "clock" | "s" | "ppm" | "percent" | "count" | "number";
export type Cell = string | number | boolean | null;

export interface TableColumn {
  key: string;
  title: string;
  unit: Unit;
}

export interface Table {
  id: string;
  title: string;
  columns: TableColumn[];
  rows: Cell[][];
}

export interface TablesAnswer {
  version: number;
  clock: KnownClock;
  tables: Table[];
}

export interface AddedEvent {
  t: string;
  kind: string;
  station?: string | null;
  mark?: string | null;
  seconds?: number | null;
  text?: string | null;
  sigma_s?: number | null;
  source?: string;
}

export interface Correction {
  id: string;
  by: string;
  retract: string | null;
  add: AddedEvent | null;
  text: string | null;
}

export interface TakenCorrection {
  id: string;
  seq: number;
}

export interface CorrectionAnswer {
  taken: TakenCorrection[];
  version: number;
}

export interface PathLesson {
  link: string;
  station: string;
  unit: "ft" | "m";
  old: number;
  old_sd: number;
  new: number;
  new_sd: number;
  /** the runs say clearly more than the plan did */
  changed: boolean;
  old_transit_s: number;
  new_transit_s: number;
  sd_s: number;
}

export interface RateLesson {
  run: string;
  station: string;
  own_ppm: number;
  own_sd_ppm: number;
  whole_ppm: number;
  whole_sd_ppm: number;
}

export interface CommonRate {
  run: string;
  ppm: number;
  sd_ppm: number;
}

export interface Difference {
  station: string;
  house: string;
  head_old_s: number;
  head_new_s: number;
  moved_s: number;
  opens_old_s: number;
  opens_new_s: number;
  closes_old_s: number;
  closes_new_s: number;
  lets_out_old_s: number;
  lets_out_new_s: number;
  seen_off_old_s: number | null;
  seen_off_new_s: number | null;
}

export interface WarningChanges {
  gone: string[];
  new: string[];
}

export interface Lessons {
  runs: string[];
  plan_run: string;
  plan_name: string;
  paths: PathLesson[];
  rates: RateLesson[];
  common: CommonRate[];
  differences: Difference[];
  warnings: WarningChanges;
}

export interface ComparedRun {
  id: string;
  title: string;
  zero: string;
  day: string;
  first_start_s: number | null;
}

export interface Comparison {
  runs: ComparedRun[];
  tables: Table[];
  series: Series[];
}
