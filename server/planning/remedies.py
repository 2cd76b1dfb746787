"""The schedule's own warnings, each with its cause and what mends it."""

import math
from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from server.planning.findings import THE_CHAIN, Finding, Level
from server.timeline.film import FOOT_M
from server.timeline.naming import house_of, link_of
from server.timeline.plan import Plan
from server.timeline.schedule import TAIL_FT, PlanWarning, Schedule


class _Known(NamedTuple):
    level: Level
    of_link: bool
    cause: str
    remedy: Callable[[Plan, Schedule, int], str]


def warning_findings(plan: Plan, schedule: Schedule) -> Iterator[Finding]:
    """Say every warning of the schedule that no other part of the judge says better."""
    for warning in schedule.warnings:
        if warning.code in _KNOWN:
            yield _finding(plan, schedule, warning)


def _finding(plan: Plan, schedule: Schedule, warning: PlanWarning) -> Finding:
    known = _KNOWN[warning.code]
    k = 0 if warning.station is None else plan.station_index[warning.station]
    if warning.station is None:
        about, stations = THE_CHAIN, tuple(station.id for station in plan.stations)
    elif known.of_link:
        about, stations = link_of(plan, k - 1), (plan.stations[k - 1].id, warning.station)
    else:
        about, stations = house_of(plan, k), (warning.station,)
    text = f"{warning.text}."
    return Finding(warning.code, known.level, about, stations, text, known.cause, known.remedy(plan, schedule, k))


def _longer_head_leader(plan: Plan, schedule: Schedule, k: int) -> str:
    times = schedule.stations[k]
    feet = math.ceil(plan.film.counter_ft_from_s(times.start_s - times.strike_closes_s))
    return f"Splice on {feet} counter ft more head leader, and start that much earlier; or strike before the start."


def _shorter_window(plan: Plan, _schedule: Schedule, k: int) -> str:
    limit_s = plan.stations[k].lamp.douser_limit_s
    return f"Set earliest_s to {limit_s:g} or less, or ask the lamphouse's maker what its douser stands."


def _closer_starts(plan: Plan, _schedule: Schedule, k: int) -> str:
    reserve_s = plan.stations[k].reserve_s
    return f"Start both at once, or at most {reserve_s:g} s apart."


def _longer_tail(plan: Plan, _schedule: Schedule, _k: int) -> str:
    feet = math.ceil(TAIL_FT - plan.film.counter_ft_from_s(plan.tail_s))
    return f"Splice on {feet} counter ft more tail leader."


def _tail_over_path(plan: Plan, _schedule: Schedule, _k: int) -> str:
    longest_s = max(link.transit_s for link in plan.links)
    feet = math.ceil(plan.film.counter_ft_from_s(longest_s - plan.tail_s))
    return f"Splice on {feet} counter ft more tail leader, or shorten that path."


def _half_path(plan: Plan, _schedule: Schedule, k: int) -> str:
    half_ft = plan.links[k - 1].path_m / FOOT_M / 2.0
    return f"Lace it as two pieces of leader, spliced about {half_ft:.0f} ft from the first machine."


def _said(text: str) -> Callable[[Plan, Schedule, int], str]:
    return lambda _plan, _schedule, _k: text


_KNOWN: Final = {
    "offset_over_reserve": _Known(
        "fault",
        True,
        "The first motor feeds the whole reserve onto the floor, or the second takes it all, before both run.",
        _closer_starts,
    ),
    "window_before_start": _Known(
        "fault",
        False,
        "The picture is at this gate so soon after the start that the lamp must burn before its motor runs.",
        _longer_head_leader,
    ),
    "window_over_douser_limit": _Known(
        "warning",
        False,
        "Its window opens earlier before the head than its douser stands the heat of the lamp.",
        _shorter_window,
    ),
    "no_path": _Known(
        "fault",
        True,
        "With no path every time after this link comes out too early.",
        _said("Measure it with a tape from gate to gate, and write it as path_ft or path_m."),
    ),
    "no_reserve": _Known(
        "fault",
        True,
        "No two motors run at one speed, and nothing here gives film or takes it.",
        _said("Hang a loop or an arm there, measure what it holds either way, and write it as reserve_s."),
    ),
    "stretch_over_limit": _Known(
        "warning",
        True,
        "Every roller and every foot adds to the pull at the leader's free end.",
        _half_path,
    ),
    "tail_short": _Known(
        "warning",
        False,
        "The tail is the time in which each booth puts its lamp out before the film's end comes through.",
        _longer_tail,
    ),
    "tail_under_path": _Known(
        "warning",
        False,
        "The film's end leaves one machine while picture is still on its way to the next, and nothing holds it back.",
        _tail_over_path,
    ),
    "archive_film": _Known(
        "fault",
        False,
        "Shrunken film climbs off the sprocket's teeth, and each machine of a chain is one more to tear it.",
        _said("Show it on one machine by itself, or show another print."),
    ),
}
"""What the judge says itself, with more than the schedule knows, is not here: heads, decks and lives of reserves."""
