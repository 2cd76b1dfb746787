"""The demonstration: the show of a plan, moved to now."""

import math
from datetime import datetime, timedelta

from server.timeline.plan import Plan, Station
from server.timeline.schedule import advertised_s, house_clock

LEAD_S = 120.0
"""The motors start at least this long, of the run's time, after the demonstration does: chosen, for the first lamps."""


def plan_moved_to(plan: Plan, now: datetime) -> Plan:
    """The same show, about to begin at `now`: its motors and its houses start whole minutes later or earlier."""
    minutes = math.ceil((now + timedelta(seconds=LEAD_S) - plan.zero) / timedelta(minutes=1))
    moved_by = timedelta(minutes=minutes)
    timing = plan.timing.model_copy(update={"motors_at": plan.timing.motors_at + moved_by})
    stations = tuple(_moved(plan, station, moved_by) for station in plan.stations)
    # Not model_copy: it would take along what the plan has worked out and kept.
    fields = {name: getattr(plan, name) for name in Plan.model_fields}
    return Plan.model_validate(fields | {"timing": timing, "stations": stations})


def _moved(plan: Plan, station: Station, moved_by: timedelta) -> Station:
    if station.advertised is None:
        return station
    clock = house_clock(plan, advertised_s(plan, station.advertised) + moved_by.total_seconds())
    return station.model_copy(update={"advertised": f"{clock:%H:%M}"})
