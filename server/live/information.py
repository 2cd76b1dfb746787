"""What a desk needs of the plan itself: told once, with every snapshot."""

from typing import Any

from server.live.figures import time_json
from server.timeline.events import rfc3339
from server.timeline.plan import Link, Mark, Plan, Segment, Station

Json = dict[str, Any]


def run_info(run_id: str, plan: Plan, speed: float, demo: bool) -> Json:
    """The run's title, film, marks, segments, stations and links; `speed` is the rate of its clock."""
    return {
        "run": run_id,
        "title": plan.title,
        "site": plan.site,
        "timezone": plan.timezone,
        "zero": rfc3339(plan.zero),
        "speed": speed,
        "demo": demo,
        "film": {key: getattr(plan.film, key) for key in ("frame_mm", "speed_m_per_s", "frames_per_foot")},
        "marks": [_mark(plan, mark) for mark in plan.marks],
        "segments": [_segment(segment) for segment in plan.print],
        "stations": [_station(plan, station) for station in plan.stations],
        "links": [_link(link) for link in plan.links],
        "horizon_s": plan.timing.forecast_horizon_s,
        "tap_sigma_s": plan.timing.tap_sigma_s,
        "tap_lag_s": plan.timing.tap_lag_s,
        "start": plan.timing.start,
        "booths": list(plan.booths),
    }


def _mark(plan: Plan, mark: Mark) -> Json:
    """A mark; its `kind` is its segment's, or its own name where it is `head`, `end` or `tail_end`.

    Another point of the print is a `change` where something is to be done as it goes by, and a `mark` where not.
    """
    kinds: dict[str, str] = {segment.id: segment.kind for segment in plan.print}
    asked = {planned.id: planned.stations if planned.say else () for planned in plan.planned_marks}
    kind = "change" if asked.get(mark.id) else "mark" if mark.id in asked else kinds.get(mark.id, mark.id)
    json = {"id": mark.id, "title": mark.title, "kind": kind, "x_s": time_json(mark.x_s), "cue": mark.cue}
    return json | {"stations": list(asked.get(mark.id, ()))}


def _segment(segment: Segment) -> Json:
    json = segment.model_dump(include={"id", "kind", "title"})
    return json | {"x_s": time_json(segment.x_s), "length_s": time_json(segment.length_s)}


def _station(plan: Plan, station: Station) -> Json:
    json = station.model_dump(include={"id", "house", "booth", "advertised", "inputs"})
    ahead_s = plan.ahead_s[plan.station_index[station.id]]
    return json | {"ahead_s": time_json(ahead_s), "start_s": station.start_offset_s}


def _link(link: Link) -> Json:
    return {"id": link.id, "transit_s": time_json(link.transit_s), "reserve_s": link.reserve_s}
