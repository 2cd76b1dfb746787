"""A time that somebody asks for on the command line: on the house's clock, or as RFC 3339."""

import re
from datetime import UTC, datetime, time, timedelta
from typing import Final

from server.timeline.events import EventFault, time_from_rfc3339
from server.timeline.faults import found_text
from server.timeline.meant_times import meant_clock
from server.timeline.plan import Plan
from server.timeline.schedule import advertised_s, schedule_from_plan

_CLOCK: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?")
_ON_A_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[ T]([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?")
_YEARS: Final = (1900, 2199)  # as of every time that is written down
_ACCEPTED: Final = "the house's clock as '19:05', '19:05:30' or '2026-03-14 19:05', or RFC 3339 with its offset"


def asked_time(text: str) -> datetime | time:
    """Read a time that was asked for: aware, or naive or without a day where it is on the house's clock.

    Raises EventFault, which says what to write where the text is nearly right.
    """
    try:
        if _CLOCK.fullmatch(text):
            return time.fromisoformat(text)
        if _ON_A_DAY.fullmatch(text) and _YEARS[0] <= int(text[:4]) <= _YEARS[1]:
            return datetime.fromisoformat(text)
        return time_from_rfc3339(text)
    except (EventFault, ValueError):  # ValueError: no such day
        meant = meant_clock(text)
        write = "" if meant is None else f": write {meant}"
        raise EventFault(f"--until: found {found_text(text)}; accepted {_ACCEPTED}{write}") from None


def moment_of(asked: datetime | time, plan: Plan) -> datetime:
    """Return the instant of a time that was asked for; one without a day is that nearest to the middle of the show."""
    if isinstance(asked, time):
        middle_s = max(station.clear_s for station in schedule_from_plan(plan).stations) / 2.0
        return plan.zero + timedelta(seconds=advertised_s(plan, asked.isoformat(), middle_s))
    return (asked.replace(tzinfo=plan.zone) if asked.tzinfo is None else asked).astimezone(UTC)
