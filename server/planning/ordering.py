"""The order of houses: the one with the least leader that meets the advertised times, what was traded, the next best.

The solver is OR-Tools' CP-SAT, of the extra `order`: import this module only where it is needed.
"""

import math
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from server.planning.ordering_answer import Chain, Order, Ordering, Stop, Trade
from server.planning.ordering_conflicts import conflicts_of
from server.planning.ordering_problem import Problem, problem_from_wanted
from server.planning.ordering_search import Found, SearchEnded, search_of
from server.planning.ordering_trades import trades_of
from server.planning.ordering_wanted import Fixed, OrderFaults, Wanted, faults_of
from server.planning.site_model import Path, Site
from server.timeline.film import FOOT_M

__all__ = ["Chain", "Fixed", "Order", "OrderFaults", "Ordering", "Stop", "Trade", "Wanted", "ordering_of"]

NEXT_BEST: Final = 3
_SAME_S: Final = 0.25  # chosen: about the decimetre of film that times are counted in; sooner or later is no miss


def ordering_of(site: Site, wanted: Wanted) -> Ordering:
    """Find the best order of what is wanted and what comes next after it, with every moment in UTC.

    Raises OrderFaults with all that is wrong with the asking, with what cannot be kept, or where the solver gives up.
    """
    faults = list(faults_of(site, wanted))
    if faults:
        raise OrderFaults(faults)
    wanted = wanted.in_utc
    problem = problem_from_wanted(site, wanted)
    try:
        search = search_of(problem, 1 + NEXT_BEST)
        if not search.orders:
            raise OrderFaults(list(conflicts_of(site, wanted)))
    except SearchEnded:
        raise OrderFaults(["No order was found in the time that was given to it: settle more of it."]) from None
    best, *next_best = (_order(site, wanted, problem, each) for each in search.orders)
    trades = trades_of(site, wanted, best, search.orders[0])
    return Ordering(best, trades, tuple(next_best), problem.can_be_turned, search.is_complete)


def _order(site: Site, wanted: Wanted, problem: Problem, found: Found) -> Order:
    houses = [tuple(wanted.houses[k] for k in chain) for chain in found.chains]
    if problem.can_be_turned:
        houses = [min(chain, chain[::-1], key=lambda one: wanted.houses.index(one[0])) for chain in houses]
    chains = tuple(_chain(site, wanted, chain, found.widened_min) for chain in houses)
    path_m = math.fsum(stop.path_m for chain in chains for stop in chain.stops)
    rules = site.threading
    leader_m = path_m * (1.0 + rules.spare_percent / 100.0) + rules.ends_ft * FOOT_M * len(chains)
    return Order(chains, path_m, leader_m, _missed(wanted, chains), found.is_proven)


def _missed(wanted: Wanted, chains: tuple[Chain, ...]) -> tuple[str, ...]:
    low_s, high_s = -wanted.early_s - _SAME_S, wanted.late_s + _SAME_S
    stops = [stop for chain in chains for stop in chain.stops]
    return tuple(stop.house for stop in stops if stop.late_s is not None and not low_s <= stop.late_s <= high_s)


def _chain(site: Site, wanted: Wanted, houses: tuple[str, ...], widened_min: int) -> Chain:
    paths = [_path(site, one, other) for one, other in pairwise(houses)]
    after_s = [0.0]
    for path in paths:
        after_s.append(after_s[-1] + wanted.film.s_from_m(path.path_m))
    first = _first_head(wanted, dict(zip(houses, after_s, strict=True)), widened_min)
    stops = [_stop(wanted, houses[0], None, 0.0, first)]
    for house, path, at_s in zip(houses[1:], paths, after_s[1:], strict=True):
        stops.append(_stop(wanted, house, path, at_s, first))
    return Chain(tuple(stops), None if first is None else first - timedelta(seconds=wanted.leader_s))


def _path(site: Site, one: str, other: str) -> Path:
    path = site.path(one, other)
    if path is None:
        raise ValueError(f"the solver went from {one} to {other}, where no path is measured")
    return path


def _first_head(wanted: Wanted, after_s: dict[str, float], widened_min: int) -> datetime | None:
    """When the first head of a chain had best come: the latest of them on time, unless another is then too early."""
    if wanted.start is not None:
        return wanted.start + timedelta(seconds=wanted.leader_s)
    on_time = [
        advertised - timedelta(seconds=after_s[house])
        for house, advertised in wanted.advertised.items()
        if house in after_s
    ]
    if not on_time:
        return None
    earliest = max(on_time) - timedelta(seconds=wanted.early_s)
    latest = min(on_time) + timedelta(seconds=wanted.late_s + 60.0 * widened_min)
    return max(min(on_time), min(earliest, latest))


def _stop(wanted: Wanted, house: str, path: Path | None, after_s: float, first: datetime | None) -> Stop:
    head = None if first is None else first + timedelta(seconds=after_s)
    advertised = wanted.advertised.get(house)
    late_s = None if head is None or advertised is None else (head - advertised).total_seconds()
    if path is None:
        return Stop(house, 0.0, 0, 0, after_s, head, advertised, late_s)
    return Stop(house, path.path_m, path.rollers, path.doorways, after_s, head, advertised, late_s)
