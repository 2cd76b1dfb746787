"""A plan's text gone through: what it says key by key, what is wrong with it, and what follows from it."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, NamedTuple

from server.plans.edits import zone_of
from server.plans.faults import NAME, Fault, faults_from_texts
from server.plans.judging import Judged, judged
from server.plans.keypaths import Value, at_path, values_of
from server.plans.site_store import KeptSite
from server.timeline.plan import Plan, PlanFaults, parse_plan
from server.timeline.schedule import Schedule, schedule_from_plan
from server.timeline.tables import toml_data

SiteOf = Callable[[object], KeptSite | None]
"""The site file that a plan names by its `site`; None where there is none."""

LISTS = ("print", "stations", "marks", "stop_groups")


class Checked(NamedTuple):
    """What a text comes to.

    `values` are those of its keys by their paths, None where it is no TOML; `counts` how many entries each list has.
    `day` and `time` are the start by the house's clock, as two fields have it. `at` is the site file that the plan
    names; of one with faults nothing is taken. `plan`, `schedule` and `judged` are None while there are faults,
    `judged` also where it was not asked for.
    """

    text: str
    values: dict[str, Value] | None
    counts: dict[str, int]
    day: str
    time: str
    faults: list[Fault]
    plan: Plan | None = None
    schedule: Schedule | None = None
    judged: Judged | None = None
    at: KeptSite | None = None


def _nowhere(_called: object) -> None:
    return None


def checked(text: str, *, judge: bool = True, site_of: SiteOf = _nowhere, crew: int | None = None) -> Checked:
    """Go through a text; without `judge` in half the time, for the chart that is drawn at every key.

    It is judged by the site that `site_of` knows, and for a crew of so many where that is asked.
    """
    text = text.removeprefix("\ufeff")
    data = _parsed(text)
    day, time = _start_of(data or {})
    known = Checked(text, None if data is None else values_of(data), _counts(data or {}), day, time, [])
    known = known._replace(at=site_of((data or {}).get("site")))
    try:
        plan = parse_plan(text, NAME)
    except PlanFaults as faults:
        return known._replace(faults=faults_from_texts(faults.faults, data))
    schedule = schedule_from_plan(plan)
    site = None if known.at is None else known.at.site
    found = judged(plan, schedule, site, crew) if judge else None
    return known._replace(plan=plan, schedule=schedule, judged=found)


def _parsed(text: str) -> dict[str, Any] | None:
    try:
        return toml_data(text)
    except ValueError:
        return None


def _counts(data: dict[str, Any]) -> dict[str, int]:
    found = {name: data.get(name) for name in LISTS}
    return {name: len(entries) if isinstance(entries, list) else 0 for name, entries in found.items()}


def _start_of(data: dict[str, Any]) -> tuple[str, str]:
    """The start as the fields for day and time show it; what is no start as it is written."""
    start = at_path(data, ("timing", "motors_at"))
    if isinstance(start, datetime):
        zone = zone_of(data)
        local = start.astimezone(zone) if start.tzinfo is not None and zone is not None else start
        return local.date().isoformat(), _shortest(local)
    day, _, time = str(start or "").partition("T")
    return day, time


def _shortest(moment: datetime) -> str:
    return f"{moment:%H:%M:%S}" if moment.second else f"{moment:%H:%M}"
