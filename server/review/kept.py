"""What a log keeps of a run beside its events, so that neither its plan nor its events need be read again."""

import json
from collections.abc import Mapping
from datetime import date, datetime
from hashlib import sha256
from typing import Any, Final, NamedTuple, Protocol

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.events import rfc3339, time_from_rfc3339
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

COUNTED_BY: Final = f"9-{sha256(repr(ALARM_KINDS).encode()).hexdigest()[:8]}"
"""What summaries are made by, the table of alarms among it; another makes them all again.

Raise the number when the engine tells other alarms of the same kinds, or the story is told otherwise.
"""


class Summary(Protocol):
    """What was counted of a run when it had so many events."""

    @property
    def events(self) -> int: ...
    @property
    def made_by(self) -> str: ...
    @property
    def body(self) -> str: ...


class Facts(NamedTuple):
    """What a list of runs says of a plan; `day` is the house's day of its planned start, both tuples in film order."""

    title: str
    site: str | None
    timezone: str
    zero: datetime
    day: date
    stations: tuple[str, ...]
    houses: tuple[str, ...]


def facts_of(plan: Plan) -> Facts:
    """The facts of a plan."""
    ids, houses = zip(*((station.id, station.house) for station in plan.stations), strict=True)
    day = house_clock(plan, 0.0).date()
    return Facts(plan.title, plan.site, plan.timezone, plan.zero, day, ids, houses)


class Kept(NamedTuple):
    """What is kept of a run that was gone through; each is None where it was not made yet.

    `trouble` is how often each kind of alarm was raised by itself, and `story` what happened, as programs get it.
    `damaged` is whether its log was last seen to have lost anything of it, and `facts` what its plan says.
    """

    trouble: Mapping[str, int] | None = None
    story: Mapping[str, Any] | None = None
    damaged: bool = False
    facts: Facts | None = None


def body_from_kept(kept: Kept) -> str:
    """What is kept of it in the log."""
    return json.dumps(kept._asdict() | {"facts": json_from_facts(kept.facts)})


def json_from_facts(facts: Facts | None) -> dict[str, Any] | None:
    """The facts of a plan, to be kept."""
    return facts and facts._asdict() | {"zero": rfc3339(facts.zero), "day": facts.day.isoformat()}


def kept_of(summary: Summary | None, events: int) -> Kept:
    """What is kept of a run that has so many events.

    Only what its plan says holds where it was made by another program, and that and any damage where it had other
    events then. Nothing is kept where it cannot be read: it has no checksum, and is made again.
    """
    try:
        return Kept() if summary is None else _kept(summary, is_whole=summary.events == events)
    except (ValueError, KeyError, TypeError, AttributeError):
        return Kept()


def _kept(summary: Summary, *, is_whole: bool) -> Kept:
    found = json.loads(summary.body)
    facts = facts_from_json(found.get("facts"))
    if summary.made_by != COUNTED_BY:
        return Kept(facts=facts)
    return Kept(found["trouble"] if is_whole else None, found["story"] if is_whole else None, found["damaged"], facts)


def facts_from_json(found: Mapping[str, Any] | None) -> Facts | None:
    """The facts as `json_from_facts` wrote them. Raises ValueError, KeyError and TypeError where they are none."""
    if found is None:
        return None
    zero, day = time_from_rfc3339(found["zero"]), date.fromisoformat(found["day"])
    stations, houses = tuple(found["stations"]), tuple(found["houses"])
    return Facts(found["title"], found["site"], found["timezone"], zero, day, stations, houses)
