"""Threading leader through a chain, and what a platter's deck holds."""

import math
from typing import Final, NamedTuple

from server.timeline.film import FOOT_M
from server.timeline.plan import Link, Plan

DECK_M: Final = 52 * 0.0254  # a deck of 52 inches, from memory
RING_M: Final = 0.60  # what a print is wound about, chosen
PRINT_THICKNESS_M: Final = 0.14e-3  # polyester: base 0.120 mm, whole print 0.13 to 0.14 mm, from memory

ROLLER_LOSS: Final = (0.005, 0.02)  # of the pull, at each free roller: 0.5 to 2 %, from memory

_SAME_FT: Final = 1e-6  # chosen: lengths closer than this are equal, so that metres and back change nothing


class Stretch(NamedTuple):
    """One length of leader, threaded on its own from station `first` to station `last`."""

    first: str
    last: str
    path_ft: float
    rollers: int


class Threading(NamedTuple):
    """What it takes to thread a chain: tape-measure feet of leader, its stretches, and the time."""

    leader_ft: float
    stretches: tuple[Stretch, ...]
    minutes: float


def threading_from_plan(plan: Plan) -> Threading:
    """Work out a plan's threading: the paths with their spare and the ends, in as few stretches as can be pulled."""
    rules = plan.threading
    path_ft = math.fsum(link.path_m for link in plan.links) / FOOT_M
    return Threading(
        leader_ft=path_ft * (1.0 + rules.spare_percent / 100.0) + rules.ends_ft,
        stretches=_stretches(plan),
        minutes=rules.minutes_per_station * len(plan.stations),
    )


def pullable(stretch: Stretch, plan: Plan) -> bool:
    """Whether that much path over that many rollers can be pulled as one stretch."""
    rules = plan.threading
    return stretch.path_ft <= rules.stretch_ft + _SAME_FT and stretch.rollers <= rules.stretch_rollers


def single_stretch(link: Link, plan: Plan) -> Stretch:
    """One link by itself; its rollers are those that lead to its downstream station."""
    rollers = plan.stations[plan.station_index[link.downstream]].rollers
    return Stretch(link.upstream, link.downstream, link.path_m / FOOT_M, rollers)


def _stretches(plan: Plan) -> tuple[Stretch, ...]:
    """Lengthen each stretch while it can be pulled; a link that is too much even alone stays by itself."""
    stretches: list[Stretch] = []
    for link in plan.links:
        single = single_stretch(link, plan)
        longer = _joined(stretches[-1], single) if stretches else None
        if longer and pullable(longer, plan):
            stretches[-1] = longer
        else:
            stretches.append(single)
    return tuple(stretches)


def _joined(stretch: Stretch, following: Stretch) -> Stretch:
    return Stretch(
        stretch.first, following.last, stretch.path_ft + following.path_ft, stretch.rollers + following.rollers
    )


def pull_left(rollers: int, loss: float) -> float:
    """Share of the pull that is left past that many free rollers, each taking the share `loss` of it."""
    return float((1.0 - loss) ** rollers)


def roll_length(outer: float, inner: float, thickness: float) -> float:
    """Length of film in a roll of these diameters, all in one unit: pi (D^2 - d^2) / 4t."""
    return math.pi * (outer**2 - inner**2) / (4.0 * thickness)
