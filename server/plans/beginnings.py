"""What a plan begins with: the least that asks for the rest, or an invented example moved to a day to come."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from server.plans.edits import SetStart, SetZone, edited
from server.timeline.plan import parse_plan
from server.timeline.schedule import house_clock

# Chosen: no length of a feature is the usual one, so it is left to be asked for.
EMPTY = """\
format = "festoon-plan/1"
title = "New plan"

[timing]
motors_at = 2026-01-01T19:00:00Z

[[print]]
id = "leader"
kind = "leader"
title = "Head leader"
feet = 60

[[print]]
id = "feature"
kind = "feature"
title = "Feature"

[[print]]
id = "tail"
kind = "tail"
title = "Tail leader"
feet = 150
"""
_STARTS = "19:00"


def empty_plan(zone: str, now: datetime) -> str:
    """A plan without houses, for the evening to come in a time zone; UTC where that is none."""
    try:
        today = now.astimezone(ZoneInfo(zone))
    except (KeyError, ValueError, OSError):
        zone, today = "UTC", now
    day = today.date() if f"{today:%H:%M}" < _STARTS else today.date() + timedelta(days=1)
    return edited(EMPTY, [SetZone(do="zone", name=zone), SetStart(do="start", day=day.isoformat(), time=_STARTS)])


def example_moved(text: str, now: datetime) -> str:
    """A plan at its own time of day, on the first day on which that is still to come."""
    plan = parse_plan(text, "the example")
    start, today = house_clock(plan, 0.0), now.astimezone(plan.zone)
    day = today.date() + timedelta(days=0 if today.timetz() < start.timetz() else 1)
    return edited(text, [SetStart(do="start", day=day.isoformat(), time=f"{start:%H:%M:%S}")])
