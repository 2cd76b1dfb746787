// What the server answers about plans that are made and changed, as server/desk/plan_messages.py has it; tests hold the two together.
// `zero` and `saved_at` are RFC 3339.

import type { FilmInfo, RunInfo, StationSchedule } from "./messages.js";

/** What a key of a plan has; dates come as text. */
export type PlanValue = string | number | boolean | string[];

export type ListName = "print" | "stations" | "marks" | "stop_groups";

export interface PlanLine {
  name: string;
  title: string;
  site: string;
  zero: string | null;
  timezone: string;
  houses: string[];
  faults: number;
  saved_at: string;
  saved_by: string;
  in_use: boolean;
}

export interface PlanList {
  plans: PlanLine[];
  strange: string[];
}

export interface PlanFault {
  path: string;
  line: number;
  about: string;
  text: string;
  meant: PlanValue | null;
}

export interface PlanFinding {
  code: string;
  level: "fault" | "warning" | "note";
  about: string;
  stations: string[];
  text: string;
  cause: string;
  remedy: string;
}

export interface PlanStretch {
  from_house: string;
  to_house: string;
  path_ft: number;
  rollers: number;
  effort: string;
}

/** `begin_s` and `ready_s` are seconds after `zero` */
export interface PlanLacing {
  leader_ft: number;
  crew: number;
  minutes: number;
  begin_s: number;
  ready_s: number;
  stretches: PlanStretch[];
}

/** One duty of a person, after a walk from the one before; seconds after `zero` */
export interface PlanTask {
  house: string;
  booth: string | null;
  what: string;
  begin_s: number;
  by_s: number;
  walk_s: number;
}

/** The site file that a plan names; `base` names its text. Of one with faults nothing is taken. */
export interface TakenSite {
  name: string;
  called: string;
  base: string;
  faults: number;
}

/** festoon-schedule/1: what the plan desk reads of it. */
export interface PlanSchedule {
  film: FilmInfo;
  stations: StationSchedule[];
}

export interface CheckedPlan {
  text: string;
  /** by key path; null where the text is no TOML */
  values: Record<string, PlanValue> | null;
  counts: Record<string, number>;
  /** the start by the house's clock, as two fields have it */
  day: string;
  time: string;
  faults: PlanFault[];
  /** whether it was asked what speaks against it */
  judged: boolean;
  findings: PlanFinding[];
  lacing: PlanLacing | null;
  /** for each of the crew what they do, in order; null where no crew was asked about */
  people: PlanTask[][] | null;
  site: TakenSite | null;
  /** null while there are faults */
  info: RunInfo | null;
  schedule: PlanSchedule | null;
  /** why an edit was not made; empty where all were */
  refused: string;
}

export interface SetKey {
  do: "set";
  path: string;
  value: PlanValue | null;
}

export interface Add {
  do: "add";
  list: ListName;
  at: number;
  values: Record<string, PlanValue | Record<string, string>>;
}

export interface Remove {
  do: "remove";
  list: ListName;
  at: number;
}

export interface Move {
  do: "move";
  list: ListName;
  at: number;
  to: number;
}

export interface SetStart {
  do: "start";
  day: string;
  time: string;
}

export interface SetZone {
  do: "zone";
  name: string;
}

export type Edit = SetKey | Add | Remove | Move | SetStart | SetZone;

export interface CheckRequest {
  text: string;
  judge: boolean;
  /** how many people there are; null where that is not asked */
  crew: number | null;
  edits: Edit[];
}

export interface OpenedPlan {
  name: string;
  base: string;
  saved_at: string;
  saved_by: string;
  in_use: boolean;
  checked: CheckedPlan;
}

export interface NewPlan {
  text: string;
  name: string;
  by: string;
}

export interface ChangedPlan {
  text: string;
  base: string;
  by: string;
}

export interface SavedPlan {
  name: string;
  base: string;
  saved_at: string;
  saved_by: string;
  copied: boolean;
}

export interface SaveConflict {
  reason: string;
  text: string;
  base: string;
  saved_at: string;
  saved_by: string;
}

export interface PlanVersion {
  number: number;
  saved_at: string;
  saved_by: string;
  text: string;
  changes: string[];
}

export interface PlanVersions {
  versions: PlanVersion[];
}

export interface PlanChanges {
  changes: string[];
}

export interface PlanUsual {
  values: Record<string, PlanValue>;
  spreads_s: Record<string, number>;
  tolerances_ppm: Record<string, number>;
}

export interface SiteFault {
  /** 0 where it has none */
  line: number;
  text: string;
}

export interface SiteLine {
  name: string;
  called: string;
  houses: number;
  paths: number;
  faults: SiteFault[];
}

export interface SiteList {
  sites: SiteLine[];
}

export interface SiteHouse {
  house: string;
  /** what a station of a plan takes of it */
  values: Record<string, PlanValue | Record<string, string>>;
}

export interface SitePath {
  houses: [string, string];
  key: "path_ft" | "path_m";
  length: number;
  rollers: number | null;
}

export interface SiteInfo {
  name: string;
  called: string;
  houses: SiteHouse[];
  paths: SitePath[];
}

export interface NewSite {
  text: string;
  /** names the text of the one that it replaces, empty where it replaces none */
  base: string;
}

export interface KeptSite {
  name: string;
  called: string;
  changed: boolean;
}

export interface SiteConflict {
  reason: string;
  name: string;
  called: string;
  base: string;
}

export interface SiteRefusal {
  reason: string;
  faults: SiteFault[];
}
