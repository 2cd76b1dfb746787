"""An order of houses as the solver has it: houses are numbers, and lengths and times whole units of film.

A unit is a millimetre where no times count, and a decimetre where they do. That is finer than a path over rollers can
be taped, and coarse enough for the solver to prove an order best. To the millimetre it takes many times as long, since
the least path is then as near to a window's edge as sums of paths can come.
"""

import math
from collections.abc import Mapping
from datetime import datetime
from typing import Final, NamedTuple

from server.planning.ordering_wanted import Fixed, Wanted
from server.planning.site_model import Site

Pair = tuple[int, int]

MINUTE_S: Final = 60.0
MM: Final = 0.001  # a unit without times, in metres
DM: Final = 0.1  # and with them


class Settled(NamedTuple):
    """What of the order is settled, as `Fixed` has it, by the houses' numbers."""

    first: tuple[int, ...] = ()
    last: tuple[int, ...] = ()
    together: tuple[tuple[int, ...], ...] = ()
    before: tuple[Pair, ...] = ()
    right_before: tuple[Pair, ...] = ()


class Problem(NamedTuple):
    """What the solver is asked; houses are counted from 0, in the order in which they are wanted.

    `paths_u` has both ways of every path that was measured, in units. A window is the first and the last unit of film
    at which the head of a house may come, counted from an instant that all share. It is None where the head may come at
    any time. `first_u` is where the head of each chain's first house is, None where it may be chosen. Windows are
    widened by whole minutes of `minute_u`: at their end, and where `first_u` is given at their beginning too. Where it
    is not, no head need be too early.
    """

    houses: int
    chains: int
    paths_u: Mapping[Pair, int]
    windows: tuple[Pair | None, ...]
    first_u: int | None
    minute_u: int
    settled: Settled

    @property
    def is_timed(self) -> bool:
        """Whether the times may be met better by one order than by another."""
        return any(window is not None for window in self.windows)

    @property
    def can_be_turned(self) -> bool:
        """Whether an order and the same the other way about are as good."""
        settled = self.settled
        return not (self.is_timed or settled.first or settled.last or settled.before or settled.right_before)

    @property
    def longest_u(self) -> int:
        """No order is longer than the longest path of every house."""
        longest = [0] * self.houses
        for (house, _), path_u in self.paths_u.items():
            longest[house] = max(longest[house], path_u)
        return sum(longest)


def problem_from_wanted(site: Site, wanted: Wanted) -> Problem:
    """Write down what is wanted for the solver; nothing is wrong with the asking."""
    unit_m = DM if wanted.is_timed else MM
    units_per_s = wanted.film.speed_m_per_s / unit_m
    return Problem(
        houses=len(wanted.houses),
        chains=wanted.chains,
        paths_u=_paths_u(site, wanted.houses, unit_m),
        windows=tuple(_window(wanted, house, units_per_s) for house in wanted.houses),
        first_u=_first_u(wanted, units_per_s),
        minute_u=round(MINUTE_S * units_per_s),
        settled=_settled(wanted.fixed, wanted.houses),
    )


def _paths_u(site: Site, houses: tuple[str, ...], unit_m: float) -> dict[Pair, int]:
    paths = {(i, j): site.path(one, other) for i, one in enumerate(houses) for j, other in enumerate(houses) if i != j}
    return {pair: round(path.path_m / unit_m) for pair, path in paths.items() if path is not None}


def _window(wanted: Wanted, house: str, units_per_s: float) -> Pair | None:
    advertised = wanted.advertised.get(house)
    if advertised is None:
        return None
    at_s = (advertised - _zero(wanted)).total_seconds()
    first_u = math.ceil((at_s - wanted.early_s) * units_per_s)
    return first_u, max(first_u, math.floor((at_s + wanted.late_s) * units_per_s))


def _first_u(wanted: Wanted, units_per_s: float) -> int | None:
    if wanted.start is None or not wanted.advertised:
        return None
    return round(((wanted.start - _zero(wanted)).total_seconds() + wanted.leader_s) * units_per_s)


def _zero(wanted: Wanted) -> datetime:
    """The instant that all windows count from."""
    return min(wanted.advertised.values())


def _settled(fixed: Fixed, houses: tuple[str, ...]) -> Settled:
    number = {house: k for k, house in enumerate(houses)}
    return Settled(
        first=tuple(number[house] for house in fixed.first),
        last=tuple(number[house] for house in fixed.last),
        together=tuple(tuple(number[house] for house in group) for group in fixed.together),
        before=tuple((number[one], number[other]) for one, other in fixed.before),
        right_before=tuple((number[one], number[other]) for one, other in fixed.right_before),
    )
