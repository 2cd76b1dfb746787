"""The library of runs: one line a run, found by date, plan, house and trouble."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple, Protocol

from server.review.kept import Facts, Summary, facts_of, kept_of
from server.review.reading import Reading
from server.review.story import RunState
from server.timeline.events import rfc3339
from server.timeline.plan import Plan, PlanFaults, parse_plan


class StoredRun(Protocol):
    """One run as a log gives it back."""

    @property
    def run_id(self) -> str: ...
    @property
    def plan_name(self) -> str: ...
    @property
    def plan_text(self) -> str: ...
    @property
    def created(self) -> datetime: ...


class Extent(Protocol):
    """How much a run holds."""

    @property
    def events(self) -> int: ...
    @property
    def last_arrived(self) -> datetime | None: ...


class Archived(Protocol):
    """When a run was put away, and by whom."""

    @property
    def at(self) -> datetime: ...
    @property
    def by(self) -> str | None: ...


class Shelf(Protocol):
    """What a library needs of a log; every mapping is by run."""

    def runs(self) -> Sequence[StoredRun]: ...
    def extents(self) -> Mapping[str, Extent]: ...
    def archived(self) -> Mapping[str, Archived]: ...
    def summaries(self) -> Mapping[str, Summary]: ...
    def summary(self, run_id: str) -> Summary | None: ...


class LibraryLine(NamedTuple):
    """One run as the library shows it.

    `facts` are None, and `fault` says why, where its text is not a plan of this program. `trouble` is how often people
    were told of each kind of alarm, None where that was not counted yet. `archived` is when it was put away, and by
    whom. `state` is how it stands or ended, None where that is not known yet. `drill` is true for a simulated show,
    `damaged` for one of which events were lost, `told` for one whose story is kept. `silent_since` is when the site of
    a live run of an archive was last heard of, None where it is heard.
    """

    run: str
    plan_name: str
    facts: Facts | None
    fault: str | None
    created: datetime
    events: int
    last_arrived: datetime | None
    live: bool
    archived: tuple[datetime, str | None] | None
    trouble: Mapping[str, int] | None
    state: RunState | None = None
    drill: bool = False
    damaged: bool = False
    told: bool = False
    silent_since: datetime | None = None

    @property
    def day(self) -> date:
        """The house's day of its planned start; the day it was written down where its plan cannot be read."""
        return self.created.date() if self.facts is None else self.facts.day

    @property
    def houses(self) -> Sequence[str]:
        """The houses of its chain, in film order."""
        return () if self.facts is None else self.facts.houses


class Wanted(NamedTuple):
    """What is looked for; None asks for nothing. Days are the house's, both included.

    `text` is looked for in run, title, site and plan file, `plan` in title and plan file, whatever the case. `house` is
    exact; `trouble` an alarm kind, or `any`. `archived` is None for all runs. `at` is a site of an archive.
    """

    first_day: date | None = None
    last_day: date | None = None
    text: str | None = None
    plan: str | None = None
    house: str | None = None
    trouble: str | None = None
    archived: bool | None = False
    at: str | None = None

    def matches(self, line: LibraryLine) -> bool:
        """Whether a line is one of those looked for; one whose trouble was not counted yet has none."""
        title, site = (line.facts.title, line.facts.site or "") if line.facts else ("", "")
        return (
            (self.first_day is None or line.day >= self.first_day)
            and (self.last_day is None or line.day <= self.last_day)
            and _has(self.text, line.run, title, site, line.plan_name)
            and _has(self.plan, title, line.plan_name)
            and (self.house is None or self.house in line.houses)
            and self._has_trouble(line)
            and (self.at is None or line.run.startswith(f"{self.at}:"))
            and (self.archived is None or self.archived is (line.archived is not None))
        )

    def _has_trouble(self, line: LibraryLine) -> bool:
        if self.trouble is None:
            return True
        trouble = line.trouble or {}
        return bool(trouble) if self.trouble == "any" else self.trouble in trouble


def _has(wanted: str | None, *texts: str) -> bool:
    return wanted is None or any(wanted.casefold() in text.casefold() for text in texts)


@lru_cache(maxsize=1024)
def plan_or_fault(text: str, name: str) -> tuple[Plan | None, str | None]:
    """The plan of a text, or the first of its faults."""
    try:
        return parse_plan(text, name), None
    except PlanFaults as faults:
        return None, faults.faults[0]


def trouble_of(reading: Reading) -> dict[str, int]:
    """How often people were told of each kind of alarm."""
    return dict(sorted(Counter(one.kind for one in reading.walk.spans if one.alone_us is not None).items()))


class Live(NamedTuple):
    """A run that goes on: how it stands, and whether it is a simulated show."""

    state: RunState
    drill: bool


_NONE_LIVE: Final[Mapping[str, Live]] = MappingProxyType({})


def lines_of(shelf: Shelf, live: Mapping[str, Live] = _NONE_LIVE) -> list[LibraryLine]:
    """Every run of a log, the newest show first; `live` are the runs that go on."""
    extents, archived, summaries = shelf.extents(), shelf.archived(), shelf.summaries()
    lines = [
        _line(run, extents.get(run.run_id), archived.get(run.run_id), summaries.get(run.run_id), live.get(run.run_id))
        for run in shelf.runs()
    ]
    return sorted(lines, key=lambda line: (line.day, line.created, line.run), reverse=True)


def _line(
    run: StoredRun, extent: Extent | None, archived: Archived | None, summary: Summary | None, live: Live | None
) -> LibraryLine:
    events = extent.events if extent else 0
    kept = kept_of(summary, events)
    facts, fault = (kept.facts, None) if kept.facts else _facts_or_fault(run)
    return LibraryLine(
        run=run.run_id,
        plan_name=run.plan_name,
        facts=facts,
        fault=fault,
        created=run.created,
        events=events,
        last_arrived=extent.last_arrived if extent else None,
        live=live is not None,
        archived=(archived.at, archived.by) if archived else None,
        trouble=kept.trouble,
        state=live.state if live else kept.story["state"] if kept.story else None,
        drill=live is not None and live.drill,
        damaged=kept.damaged,
        told=kept.story is not None,
    )


def _facts_or_fault(run: StoredRun) -> tuple[Facts | None, str | None]:
    plan, fault = plan_or_fault(run.plan_text, run.plan_name)
    return (facts_of(plan), None) if plan else (None, fault)


def is_uncounted(line: LibraryLine) -> bool:
    """Whether a line's trouble is yet to be counted or its story to be made; a live run's are when it is over."""
    is_missing = line.trouble is None or not line.told
    return is_missing and line.facts is not None and (not line.live or line.state == "over")


def archived_json(at: datetime, by: str | None) -> dict[str, Any]:
    """When a run was put away and by whom, as programs get it."""
    return {"at": rfc3339(at), "by": by}


def line_json(line: LibraryLine) -> dict[str, Any]:
    """A line as programs get it."""
    facts = line.facts
    return {
        "run": line.run,
        "title": facts and facts.title,
        "site": facts and facts.site,
        "plan_name": line.plan_name,
        "timezone": facts and facts.timezone,
        "zero": facts and rfc3339(facts.zero),
        "day": line.day.isoformat(),
        "created": rfc3339(line.created),
        "stations": list(facts.stations) if facts else [],
        "houses": list(line.houses),
        "events": line.events,
        "last_arrived": rfc3339(line.last_arrived) if line.last_arrived else None,
        "live": line.live,
        "silent_since": rfc3339(line.silent_since) if line.live and line.silent_since else None,
        "archived": archived_json(*line.archived) if line.archived else None,
        "trouble": line.trouble,
        "state": line.state,
        "drill": line.drill,
        "damaged": line.damaged,
        "fault": line.fault,
    }
