"""How a live run stands, small enough to be sent whenever it changes: so an overview needs no engine."""

import asyncio
from collections.abc import Mapping
from typing import Any, Final

from server.archive.forwarding import Forwarding
from server.live import LiveRun
from server.review.story import state_of
from server.timeline.events import rfc3339
from server.timeline.naming import place_of
from server.timeline.view import AlarmView

FORMAT: Final = 1
"""Of what a picture says; another page does not take one for another. Raise it when a part changes its meaning."""

WORST: Final = 3
"""Alarms that are told of one run; the others are counted. Chosen: an overview says where to look."""

EVERY_S: Final = 1.0
"""Between two pictures of the live runs. Chosen."""

_LEVELS: Final = ("act", "watch", "note")


async def show_on(forwarding: Forwarding, runs: Mapping[str, LiveRun]) -> None:
    """Show an archive the live runs, until it is cancelled."""
    while True:
        forwarding.show({run_id: picture_of(run) for run_id, run in runs.items()})
        await asyncio.sleep(EVERY_S)


def picture_of(run: LiveRun) -> dict[str, Any]:
    """The picture: alarms that are told, by level, the worst of them, and where it is worst of all."""
    view, plan = run.view, run.plan
    told = [alarm for alarm in view.alarms if alarm.told and alarm.state != "returned"]
    phases = [station.phase for station in view.stations]
    started = [station.started_s for station in view.stations if station.started_s is not None]
    heads = [station.head_s for station in view.stations if station.head_s is not None]
    return {
        "format": FORMAT,
        "title": plan.title,
        "timezone": plan.timezone,
        "zero": rfc3339(plan.zero),
        "demo": run.info["demo"],
        "state": state_of(phases),
        "fault": run.fault,
        "warnings": list(run.warnings.values()),
        "started_s": _whole(min(started, default=None)),
        "head_s": _whole(min(heads, default=None)),
        "stations": [{"house": s.house, "phase": phase} for s, phase in zip(plan.stations, phases, strict=True)],
        "alarms": {level: sum(alarm.level == level for alarm in told) for level in _LEVELS},
        "stands": [f"House {s.house}" for s, phase in zip(plan.stations, phases, strict=True) if phase == "stopped"],
        "worst": [{"level": a.level, "text": a.text, "todo": a.todo} for a in told[:WORST]],
        **{key: _places(run, told, kinds) for key, kinds in _WORST_OF_ALL.items()},
    }


_WORST_OF_ALL: Final = {
    "spent": ("reserve_spent",),
    "light": ("film_heat",),
    "dark": ("dark_gate", "lamp_lost"),
}
"""By what it is called here: the alarms that say so of a place."""


def _places(run: LiveRun, alarms: list[AlarmView], kinds: tuple[str, ...]) -> list[str]:
    return [place_of(run.plan, alarm.subject) for alarm in alarms if alarm.kind in kinds]


def _whole(at_s: float | None) -> int | None:
    """An estimate moves by itself: to the whole second it is told again when somebody could see it."""
    return None if at_s is None else round(at_s)
