"""What a debrief asks for and is answered with, as models. Times are seconds after the run's `zero`, or RFC 3339."""

from typing import Annotated, Literal

from pydantic import Field

from server.desk.messages import ObservedEvent, RunInfo, View, Wire
from server.desk.schedules import ScheduleDocument
from server.timeline.view import Level, Phase

ClockName = Literal["now", "then"]
RunStateName = Literal["waiting", "running", "standing", "over"]


class Faults(Wire):
    """Why a request was refused; `faults` are those of a plan, one line each."""

    reason: str
    faults: list[str]


class ArchivedMark(Wire):
    """When a run was put away, and by whom."""

    at: str
    by: str | None


class LibraryRun(Wire):
    """One run of the library; `trouble` is null until it is counted, `fault` says why a plan cannot be read.

    `state` is how it stands or ended, null until that is known. `drill` is true for a simulated show, `damaged` for one
    of which events were lost. `silent_since` is when the site of a live run was last heard of, null while it is.
    """

    run: str
    title: str | None
    site: str | None
    plan_name: str
    timezone: str | None
    zero: str | None
    day: str
    created: str
    stations: list[str]
    houses: list[str]
    events: int
    last_arrived: str | None
    live: bool
    silent_since: str | None
    archived: ArchivedMark | None
    trouble: dict[str, int] | None
    state: RunStateName | None
    drill: bool
    damaged: bool
    fault: str | None


class ArchiveLag(Wire):
    """How the archive fares that the log is forwarded to: `waiting` events are not there yet, some `since` then.

    `why` says why it cannot be reached; `notes` are what somebody should know of what is there.
    """

    place: str
    site: str | None
    waiting: int
    since: str | None
    why: str | None
    notes: list[str]


class Library(Wire):
    """Runs, the newest first; where `uncounted` is over 0, ask again: each answer counts a few more.

    `following` is what the next page comes `after`, null where this is the last. `sites` are those of an archive, null
    for a server's own log. `archive` is null where the log is forwarded to none.
    """

    runs: list[LibraryRun]
    following: str | None
    uncounted: int
    sites: list[str] | None
    archive: ArchiveLag | None


class ArchiveRequest(Wire):
    """Put a run away, or bring it back."""

    archived: bool
    by: Annotated[str, Field(min_length=1, max_length=200)] | None = None


class RemoveRequest(Wire):
    """Remove a run for good; only `yes` does."""

    yes: bool


class File(Wire):
    """A text file as the browser read it."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    text: str


class DroppedRecording(Wire):
    """A recording, and its plan where it does not carry it."""

    recording: File
    plan: File | None = None


class RejectedLine(Wire):
    """A line that was not taken, and why."""

    line: int
    text: str


class Dropped(Wire):
    """Where the recording can be gone through."""

    id: str
    rejected: list[RejectedLine]


class SpanInfo(Wire):
    """What there is to scrub through."""

    from_s: float
    to_s: float


class HeardOf(Wire):
    """Of a run that is live at another site: the last event that is here, and when the site was last heard of.

    `is_silent` where that is so long ago that nobody can say how the run stands now.
    """

    last_arrived: str | None
    at: str
    is_silent: bool


class DebriefInfo(Wire):
    """One run; `version` grows with every event, `keeps_arrivals` is false for a recording that does not say them.

    `lacking` is what damage of the log took of it, in sentences. `heard` is null but for a live run of an archive.
    """

    id: str
    source: Literal["log", "archive", "recording"]
    live: bool
    heard: HeardOf | None
    archived: ArchivedMark | None
    info: RunInfo
    schedule: ScheduleDocument
    span: SpanInfo
    keeps_arrivals: bool
    events: int
    rejected: list[RejectedLine]
    lacking: list[str]
    version: int


class StateAt(Wire):
    """The run at an instant; until `next_s` (null: for good) nothing changes by itself, so animate from `view`."""

    at_s: float
    clock: ClockName
    version: int
    view: View
    last_seq: int | None
    next_s: float | None


class SeriesPass(Wire):
    """One mark at one gate; `expected` just before it was seen, else at the last."""

    station: str
    mark: str
    planned_s: float
    expected_s: float | None
    expected_sd_s: float | None
    observed_s: float | None
    believed: bool


class SeriesLink(Wire):
    """A link's slack at the instants of `t_s`; null once the film's end has left the gate above."""

    id: str
    reserve_s: float
    slack_s: list[float | None]
    sd_s: list[float | None]


class SeriesSlack(Wire):
    """Slack over time."""

    t_s: list[float]
    links: list[SeriesLink]


class SeriesPhase(Wire):
    """A station entering a phase."""

    station: str
    phase: Phase
    from_s: float


class SeriesAlarm(Wire):
    """One alarm, from told to over; `over_s` is null where it was on at the end."""

    key: str
    kind: str
    subject: str
    level: Level
    cause: str | None
    text: str
    todo: str
    since_s: float
    told_s: float
    act_s: float | None
    seen_s: float | None
    seen_by: str | None
    over_s: float | None
    lasted_s: float | None


class Series(Wire):
    """A whole run for charts."""

    clock: ClockName
    version: int
    from_s: float
    to_s: float
    passes: list[SeriesPass]
    slack: SeriesSlack
    phases: list[SeriesPhase]
    alarms: list[SeriesAlarm]


class StoryPart(Wire):
    """A part of a sentence: a text, or a moment to be shown on the house's clock, its seconds where they matter."""

    text: str | None
    at_s: float | None
    seconds: bool


class StorySentence(Wire):
    """One sentence of a story and its moment; `level` is null where it is about no trouble."""

    at_s: float
    level: Level | None
    parts: list[StoryPart]


class Story(Wire):
    """What happened, in at most five sentences; `more` says what was left out, `state` how the run ended."""

    clock: ClockName
    version: int
    damaged: bool
    sentences: list[StorySentence]
    more: str
    state: RunStateName


class FirstLook(Wire):
    """What there is of a run before it is gone through: `series` as it was told; `story` is null where none is kept."""

    debrief: DebriefInfo
    series: Series
    story: Story | None


class ArrivedEvent(Wire):
    """One event: `at_s` is when it counts, `arrived_s` when it was taken."""

    seq: int
    at_s: float
    arrived: str
    arrived_s: float
    late_s: float
    retracted_by: str | None
    correction: bool
    event: ObservedEvent


class EventList(Wire):
    """Every event, in the order of arrival."""

    version: int
    events: list[ArrivedEvent]


class TableColumn(Wire):
    """One column; `clock` is seconds to be shown as the house's time."""

    key: str
    title: str
    unit: Literal["text", "clock", "s", "ppm", "percent", "count", "number"]


class TableDocument(Wire):
    """One table, in the words of people: houses and links have their names, not their ids."""

    id: str
    title: str
    columns: list[TableColumn]
    rows: list[list[str | float | int | None]]


class TableList(Wire):
    """Every table of a run."""

    version: int
    clock: ClockName
    tables: list[TableDocument]


class AddedEvent(Wire):
    """What was not tapped: an event without `id` and `by`; a time read elsewhere comes from `recording:debrief`."""

    t: str
    kind: str
    source: Literal["tap:debrief", "recording:debrief"] = "tap:debrief"
    station: str | None = None
    sigma_s: float | None = None
    mark: str | None = None
    seconds: float | None = None
    text: str | None = None


class Correction(Wire):
    """What is put right: an event that did not happen, one that did, or both; `text` says why."""

    id: Annotated[str, Field(min_length=1, max_length=150)]
    by: Annotated[str, Field(min_length=1, max_length=200)]
    retract: str | None = None
    add: AddedEvent | None = None
    text: Annotated[str, Field(min_length=1, max_length=2000)] | None = None


class TakenEvent(Wire):
    """One event that was written, and its number in the log."""

    id: str
    seq: int


class Corrected(Wire):
    """What was written; `version` is that of the run from then on."""

    taken: list[TakenEvent]
    version: int


class PathLine(Wire):
    """One path, in the plan's own unit: what it says and what runs say, with one standard deviation each."""

    link: str
    station: str
    unit: Literal["ft", "m"]
    old: float
    old_sd: float
    new: float
    new_sd: float
    changed: bool
    old_transit_s: float
    new_transit_s: float
    sd_s: float


class RateLine(Wire):
    """One motor in one run, in ppm: its own rate error, and the whole."""

    run: str
    station: str
    own_ppm: float
    own_sd_ppm: float
    whole_ppm: float
    whole_sd_ppm: float


class CommonRateLine(Wire):
    """The rate error that all motors of a run had in common, in ppm."""

    run: str
    ppm: float
    sd_ppm: float


class DifferenceLine(Wire):
    """What the corrected plan says otherwise of one station."""

    station: str
    house: str
    head_old_s: float
    head_new_s: float
    moved_s: float
    opens_old_s: float
    opens_new_s: float
    closes_old_s: float
    closes_new_s: float
    lets_out_old_s: float
    lets_out_new_s: float
    seen_off_old_s: float | None
    seen_off_new_s: float | None


class WarningChanges(Wire):
    """The plan's warnings that go and come with the correction."""

    gone: list[str]
    new: list[str]


class LessonList(Wire):
    """What runs teach; the plan of `plan_run` is the one that would be corrected."""

    runs: list[str]
    plan_run: str
    plan_name: str
    paths: list[PathLine]
    rates: list[RateLine]
    common: list[CommonRateLine]
    differences: list[DifferenceLine]
    warnings: WarningChanges


class ComparedRun(Wire):
    """One of the runs; subtract `first_start_s` from its times to lay it over the others."""

    id: str
    title: str
    zero: str
    day: str
    first_start_s: float | None


class Comparison(Wire):
    """Runs side by side: tables of all, and the series of each, in the order asked for."""

    runs: list[ComparedRun]
    tables: list[TableDocument]
    series: list[Series]
