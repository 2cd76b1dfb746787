// What the server answers about runs that are gone through afterwards, as server/desk/debrief_messages.py has it; tests hold the two together.
// Times are seconds after the run's `zero`, but `zero`, `created`, `arrived`, `last_arrived` and `t`, which are RFC 3339.

import type { Level, ObservedEvent, Phase, RunInfo, Schedule, View } from "./messages.js";

/** `now`: all that is known today. `then`: only what had arrived by the moment that is looked at. */
export type ClockName = "now" | "then";

/** No motor has started; film runs; film is left and all of it stands; no film is left. */
export type RunStateName = "waiting" | "running" | "standing" | "over";

export interface ArchivedMark {
  at: string;
  by: string | null;
}

export interface LibraryRun {
  run: string;
  title: string | null;
  site: string | null;
  plan_name: string;
  timezone: string | null;
  zero: string | null;
  day: string;
  created: string;
  stations: string[];
  houses: string[];
  events: number;
  last_arrived: string | null;
  live: boolean;
  archived: ArchivedMark | null;
  /** alarms people were told of, by kind; null where they are not counted yet */
  trouble: Record<string, number> | null;
  /** how it stands or ended; null until that is known */
  state: RunStateName | null;
  /** a simulated show */
  drill: boolean;
  /** events of it were lost */
  damaged: boolean;
  /** why its plan cannot be read */
  fault: string | null;
}

export interface ArchiveLag {
  /** its address, without a password */
  place: string;
  /** what it calls this site; null until it was asked */
  site: string | null;
  /** events that it does not have yet */
  waiting: number;
  /** since when something waits, RFC 3339 */
  since: string | null;
  /** why it cannot be reached */
  why: string | null;
  notes: string[];
}

export interface Library {
  runs: LibraryRun[];
  /** what the next page comes after; null where this is the last */
  following: string | null;
  uncounted: number;
  /** those of an archive; null for a server's own log */
  sites: string[] | null;
  archive: ArchiveLag | null;
}

export interface RejectedLine {
  line: number;
  text: string;
}

export interface Dropped {
  id: string;
  rejected: RejectedLine[];
}

export interface SpanInfo {
  from_s: number;
  to_s: number;
}

export interface DebriefInfo {
  id: string;
  source: "log" | "archive" | "recording";
  live: boolean;
  archived: ArchivedMark | null;
  info: RunInfo;
  schedule: Schedule;
  span: SpanInfo;
  keeps_arrivals: boolean;
  events: number;
  rejected: RejectedLine[];
  /** what damage of the log took of it, in sentences */
  lacking: string[];
  version: number;
}

export interface StateAt {
  at_s: number;
  clock: ClockName;
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

export interface SeriesLink {
  id: string;
  reserve_s: number;
  slack_s: (number | null)[];
  sd_s: (number | null)[];
}

export interface SeriesSlack {
  t_s: number[];
  links: SeriesLink[];
}

export interface SeriesPhase {
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
  clock: ClockName;
  version: number;
  from_s: number;
  to_s: number;
  passes: SeriesPass[];
  slack: SeriesSlack;
  phases: SeriesPhase[];
  alarms: SeriesAlarm[];
}

/** A text, or a moment to be shown on the house's clock */
export interface StoryPart {
  text: string | null;
  at_s: number | null;
  seconds: boolean;
}

export interface StorySentence {
  at_s: number;
  level: Level | null;
  parts: StoryPart[];
}

export interface Story {
  clock: ClockName;
  version: number;
  damaged: boolean;
  sentences: StorySentence[];
  more: string;
  state: RunStateName;
}

export interface FirstLook {
  debrief: DebriefInfo;
  series: Series;
  story: Story | null;
}

export interface ArrivedEvent {
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

export interface EventList {
  version: number;
  events: ArrivedEvent[];
}

export type Unit = "text" | "clock" | "s" | "ppm" | "percent" | "count" | "number";
export type Cell = string | number | boolean | null;

export interface TableColumn {
  key: string;
  title: string;
  unit: Unit;
}

export interface TableDocument {
  id: string;
  title: string;
  columns: TableColumn[];
  rows: Cell[][];
}

export interface TableList {
  version: number;
  clock: ClockName;
  tables: TableDocument[];
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

export interface TakenEvent {
  id: string;
  seq: number;
}

export interface Corrected {
  taken: TakenEvent[];
  version: number;
}

export interface PathLine {
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

export interface RateLine {
  run: string;
  station: string;
  own_ppm: number;
  own_sd_ppm: number;
  whole_ppm: number;
  whole_sd_ppm: number;
}

export interface CommonRateLine {
  run: string;
  ppm: number;
  sd_ppm: number;
}

export interface DifferenceLine {
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

export interface LessonList {
  runs: string[];
  plan_run: string;
  plan_name: string;
  paths: PathLine[];
  rates: RateLine[];
  common: CommonRateLine[];
  differences: DifferenceLine[];
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
  tables: TableDocument[];
  series: Series[];
}
