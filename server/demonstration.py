"""The show of a plan as something to try out: moved to now, and at a speed that is not life's."""

import math
from datetime import datetime, timedelta
from typing import Any

import tomlkit

from server.timeline.plan import Plan, Station, parse_plan
from server.timeline.schedule import advertised_s, house_clock

LEAD_S = 120.0
"""The motors start at least this long, of the run's time, after the demonstration does: chosen, for the first lamps."""

FINGERS = ("tap_lag_s", "tap_sigma_s", "start_grace_s")
"""What a plan says of how fast people are."""


def plan_moved_to(plan: Plan, now: datetime) -> Plan:
    """The same show, about to begin at `now`: its motors and its houses start whole minutes later or earlier."""
    minutes = math.ceil((now + timedelta(seconds=LEAD_S) - plan.zero) / timedelta(minutes=1))
    moved_by = timedelta(minutes=minutes)
    timing = plan.timing.model_copy(update={"motors_at": plan.timing.motors_at + moved_by})
    stations = tuple(_moved(plan, station, moved_by) for station in plan.stations)
    return _changed(plan, timing=timing, stations=stations)


def plan_for_fingers(plan: Plan, rate: float) -> Plan:
    """The same show for people who tap while it runs `rate` times as fast: a finger is as many times as late."""
    timing = plan.timing.model_copy(update={name: getattr(plan.timing, name) * rate for name in FINGERS})
    return _changed(plan, timing=timing)


def text_of(plan: Plan, text: str) -> str:
    """The text of the plan that `plan` was made of by the functions above, changed to say what it says."""
    before = parse_plan(text, plan.title)
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    timing: Any = document["timing"]
    for name in ("motors_at", *FINGERS):
        if getattr(before.timing, name) != getattr(plan.timing, name):
            timing[name] = getattr(plan.timing, name)
    stations: Any = document["stations"]
    for table, station in zip(stations, plan.stations, strict=True):
        if station.advertised is not None:
            table["advertised"] = station.advertised
    return tomlkit.dumps(document)


def _changed(plan: Plan, **fields: object) -> Plan:
    """Not by model_copy: it would take along what the plan has worked out and kept."""
    return Plan.model_validate({name: getattr(plan, name) for name in Plan.model_fields} | fields)


def _moved(plan: Plan, station: Station, moved_by: timedelta) -> Station:
    if station.advertised is None:
        return station
    clock = house_clock(plan, advertised_s(plan, station.advertised) + moved_by.total_seconds())
    return station.model_copy(update={"advertised": f"{clock:%H:%M}"})
