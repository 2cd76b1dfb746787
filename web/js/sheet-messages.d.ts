// What the server answers about the sheets of a plan, as server/desk/sheet_messages.py has it; tests hold the two together.
// `zero`, `now` and `saved_at` are RFC 3339; times in seconds count from `zero`.

export interface SheetLine {
  /** the stem of its page's name */
  name: string;
  title: string;
  about: string;
}

export interface SheetList {
  name: string;
  base: string;
  saved_at: string;
  saved_by: string;
  /** how many things were found that cannot work */
  against: number;
  sheets: SheetLine[];
}

export interface ThreadingTick {
  /** the same in every version of a plan in which the thing is the same */
  key: string;
  where: string;
  what: string;
}

export interface ThreadingStep {
  key: string;
  where: string;
  what: string;
  number: number;
  people: number;
  /** how long its people take together */
  minutes: number;
  begins_s: number;
  caution: string | null;
}

export interface ThreadingList {
  name: string;
  /** names the text of the plan */
  base: string;
  title: string;
  site: string;
  zero: string;
  timezone: string;
  saved_at: string;
  saved_by: string;
  now: string;
  against: number;
  crew: number;
  minutes: number;
  begin_s: number;
  ready_s: number;
  leader_ft: number;
  steps: ThreadingStep[];
  marks: ThreadingTick[];
  machines: ThreadingTick[];
  cues: ThreadingTick[];
  rule: string;
  cautions: string[];
}
