// What goes over the wire, as server/desk/messages.py has it; tests/web/test_messages.py holds the two together.
// Times are seconds after the run's `zero` unless a key says otherwise.

export type Phase = "threaded" | "rolling" | "showing" | "tail" | "clear" | "stopped";
export type Level = "act" | "watch" | "note";
export type PromptKind = "start" | "strike" | "open_douser" | "confirm_head" | "shut_douser" | "shut_lamp" | "house_clear" | "intermission" | "change";
export type Missing = "ready" | "douser_shut" | "lamp_lit" | "lamp_out";
export type Input = "contact" | "tap" | "none";

export interface FilmInfo {
  frame_mm: number;
  speed_m_per_s: number;
  frames_per_foot: number;
}

export interface MarkInfo {
  id: string;
  title: string;
  kind: string;
  x_s: number;
  cue: boolean;
  /** the gates at which something is to be done as it goes by */
  stations: string[];
}

export interface SegmentInfo {
  id: string;
  kind: string;
  title: string;
  x_s: number;
  length_s: number;
}

export interface StationInfo {
  id: string;
  house: string;
  booth: string | null;
  ahead_s: number;
  start_s: number;
  advertised: string | null;
  inputs: Record<string, Input>;
}

export interface LinkInfo {
  id: string;
  transit_s: number;
  reserve_s: number;
}

export interface RunInfo {
  run: string;
  title: string;
  site: string | null;
  timezone: string;
  zero: string;
  speed: number;
  demo: boolean;
  film: FilmInfo;
  marks: MarkInfo[];
  segments: SegmentInfo[];
  stations: StationInfo[];
  links: LinkInfo[];
  horizon_s: number;
  tap_sigma_s: number;
  tap_lag_s: number;
  start: "common" | "timers" | "hands";
  /** those that can be called by name */
  booths: string[];
}

export interface Station {
  id: string;
  phase: Phase;
  running: boolean;
  started_s: number | null;
  stopped_s: number | null;
  lamp: "lit" | "out";
  lamp_s: number | null;
  douser: "open" | "shut" | "unknown";
  at_s: number;
  count_s: number;
  rate: number;
  ahead_s: number;
  eta_var: [number, number, number, number];
  passes: Record<string, number>;
  head_s: number | null;
  /** null where the print has no credits */
  credits_s: number | null;
  end_s: number | null;
  clear_s: number | null;
}

export interface Link {
  id: string;
  at_s: number;
  /** null, like the three below, once the film's end has left the upstream gate */
  slack_s: number | null;
  slack_sd_s: number | null;
  drift: number | null;
  drift_sd: number | null;
  reserve_s: number;
  /** when the reserve is likely gone */
  gone_s: number | null;
}

export interface Alarm {
  key: string;
  kind: string;
  subject: string;
  level: Level;
  state: "unacknowledged" | "acknowledged" | "returned";
  cause: string | null;
  told: boolean;
  since_s: number;
  text: string;
  todo: string;
  acked_by: string | null;
  shelved_until_s: number | null;
  /** when it went off, unacknowledged; null while it is on */
  off_s: number | null;
}

export interface Prompt {
  key: string;
  kind: PromptKind;
  station: string;
  from_s: number;
  due_s: number;
  text: string;
  /** asked for no more after that */
  until_s: number | null;
  /** what is tapped when it is done */
  mark: string | null;
}

export type Trouble = "no_picture" | "no_sound" | "unsteady" | "out_of_focus" | "people" | "other";

/** What somebody says is wrong in a house: the latest of its kind there. */
export interface HouseReport {
  station: string;
  what: Trouble;
  text: string | null;
  by: string | null;
  since_s: number;
  /** who has it */
  acked_by: string | null;
  over_s: number | null;
  over_by: string | null;
}

export interface StationReady {
  station: string;
  /** null where nobody said that it is ready */
  ready_s: number | null;
  ready_by: string | null;
  missing: Missing[];
}

export interface LinkReady {
  link: string;
  known: "read" | "relaced" | "none";
  slack_s: number;
  /** past its reserve */
  spent: boolean;
}

/** What has to be so before a chain that stands may start; there while it stands. */
export interface RestartCard {
  before: "start" | "restart";
  ready: boolean;
  /** null where nobody has said when */
  start_s: number | null;
  stations: StationReady[];
  links: LinkReady[];
}

export interface View {
  t_s: number;
  stations: Station[];
  links: Link[];
  alarms: Alarm[];
  prompts: Prompt[];
  sources: Record<string, boolean>;
  /** how much later than planned the first start is to be */
  hold_s: number;
  restart: RestartCard | null;
  reports: HouseReport[];
}

export interface ObservedEvent {
  id: string;
  t: string;
  kind: string;
  station?: string | null;
  source: string;
  sigma_s?: number | null;
  by?: string | null;
  mark?: string | null;
  seconds?: number | null;
  retracts?: string | null;
  alarm?: string | null;
  what?: Trouble | null;
  to?: string | null;
  text?: string | null;
}

export interface Snapshot {
  type: "snapshot";
  seq: number;
  now_s: number;
  /** this life of the server */
  epoch: string;
  info: RunInfo;
  view: View;
  events: ObservedEvent[];
  /** why the run no longer follows its events */
  fault: string | null;
  /** what is said of the run beside its alarms: of its log, of the computer's clock */
  warnings: string[];
}

export type StationChange = Partial<Station> & { id: string };
export type LinkChange = Partial<Link> & { id: string };
/** Whole where the key is new. */
export type AlarmChange = Partial<Alarm> & { key: string };
/** Whole where the key is new. */
export type PromptChange = Partial<Prompt> & { key: string };

export interface Change {
  type: "change";
  seq: number;
  now_s: number;
  stations?: StationChange[] | null;
  links?: LinkChange[] | null;
  alarms?: AlarmChange[] | null;
  /** alarms that are no longer there */
  gone?: string[] | null;
  prompts?: PromptChange[] | null;
  prompts_gone?: string[] | null;
  sources?: Record<string, boolean> | null;
  hold_s?: number | null;
  /** null where the card has gone; absent where it stands */
  restart?: RestartCard | null;
  reports?: HouseReport[] | null;
  /** taken since the change before, oldest first */
  events?: ObservedEvent[] | null;
  fault?: string | null;
  warnings?: string[] | null;
}

export interface Beat {
  type: "beat";
  seq: number;
  /** only where it answers a desk that came back */
  now_s?: number | null;
}

export interface Taken {
  type: "taken";
  id: string;
  seq: number;
  t: string;
}

export interface Refused {
  type: "refused";
  id: string | null;
  reason: string;
  /** the same event may be taken when it is sent again later */
  again: boolean;
  /** it counts on every desk, and is only not written down yet */
  known?: true | null;
}

export interface TimeAnswer {
  type: "time";
  c: unknown;
  now_s: number;
}

export type ServerMessage = Snapshot | Change | Beat | Taken | Refused | TimeAnswer;

export interface EventMessage {
  type: "event";
  event: ObservedEvent;
}

export interface TimeQuestion {
  type: "time";
  c: number;
}

export type DeskMessage = EventMessage | TimeQuestion;

/** One run of `GET /api/runs`. */
export interface RunLine {
  run: string;
  title: string;
  site: string | null;
  timezone: string;
  zero: string;
  demo: boolean;
  fault: string | null;
}

/** `GET /api/runs/{run}/schedule`, festoon-schedule/1: what the desks read of it. */
export interface Schedule {
  stations: StationSchedule[];
}

export interface StationSchedule {
  id: string;
  house: string;
  start_s: number;
  passes: Record<string, number>;
  strike_opens_s: number;
  strike_closes_s: number;
  clear_s: number;
}

// Pairing: server/desk/pairings.py

export type Role = "booth" | "look" | "report";

export interface Me {
  name: string | null;
  role: Role;
  local: boolean;
}

export interface PairingCode {
  code: string;
  name: string;
  role: Role;
  until: string;
  address: string;
  size: number;
  path: string;
}

export interface PairingLine {
  id: string;
  name: string;
  role: Role;
  created: string;
  until: string;
  connections: number;
  mine: boolean;
}

// The contacts of a run, and its roll call

export interface ContactPort {
  id: string;
  kind: string;
  port: string;
  fault: string | null;
  sampling_ms: number;
  seen_sampling_ms: number | null;
}

export interface ContactInput {
  id: string;
  station: string;
  what: "motor" | "lamp" | "douser" | "cue" | "failsafe";
  on: boolean | null;
  closes: number;
  seen: boolean;
  edges: number;
  bounced_ms: number;
  bounces: boolean;
  flickers: boolean;
  instead: string[];
}

export interface ContactState {
  on: boolean;
  asked: string | null;
  result: string | null;
  strays: string[];
  feeds: ContactPort[];
  inputs: ContactInput[];
}
