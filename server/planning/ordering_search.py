"""The best orders of a problem, one after another, each proven by the solver.

Only this module and `ordering_model` need OR-Tools, the extra `order`.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, NamedTuple

from ortools.sat.python import cp_model

from server.planning.ordering_model import Links, OrderModel
from server.planning.ordering_problem import Problem

_LONGEST: Final = 10.0
"""What the solver counts of its own work on one order, in about two seconds each, before it takes the best it has.
Chosen: `tests/bench/ordering.py` tells which problems come to that. No clock is read: the same problem ends the same
way everywhere."""


class SearchEnded(Exception):
    """The solver gave up before it had found an order."""


class Found(NamedTuple):
    """One order: the houses of each chain in film order, and by how many minutes the windows had to be widened.

    `path_u` is that of all chains, in the problem's units; `is_proven` is whether the solver has shown that no order
    is better.
    """

    chains: tuple[tuple[int, ...], ...]
    path_u: int
    widened_min: int
    is_proven: bool

    @property
    def worth(self) -> tuple[int, int]:
        """The less the better."""
        return self.widened_min, self.path_u

    @property
    def links(self) -> Links:
        """Each two houses that follow one another."""
        return frozenset(pair for chain in self.chains for pair in pairwise(chain))


class Search(NamedTuple):
    """Orders, best first: by how little the windows are widened, then by their path.

    There are none where no order keeps what is settled along the paths that were measured. `is_complete` is whether
    there are as many as were asked for, or else no others; not so where the solver gave up.
    """

    orders: tuple[Found, ...]
    is_complete: bool


def search_of(problem: Problem, count: int) -> Search:
    """Find up to so many orders. Raises SearchEnded where the solver gave up before the first."""
    orders: list[Found] = []
    is_complete = True
    try:
        for found in _in_turn(problem):
            orders.append(found)
            if len(orders) == count:
                break
    except SearchEnded:
        if not orders:
            raise
        is_complete = False
    return Search(_proven(orders), is_complete)


def found_orders(problem: Problem, count: int) -> tuple[Found, ...]:
    """The orders of a search alone. Raises SearchEnded where the solver gave up before the first."""
    return search_of(problem, count).orders


def _proven(orders: list[Found]) -> tuple[Found, ...]:
    """The least of what is left over an order is no less than it, where that is proven: then so is the order itself."""
    proven: list[Found] = []
    for k, found in enumerate(orders):
        after = [later for later in orders[k + 1 :] if later.is_proven]
        is_least = any(later.worth >= found.worth for later in after)
        proven.append(found._replace(is_proven=found.is_proven or is_least))
    return tuple(sorted(proven, key=lambda found: found.worth))


def _in_turn(problem: Problem) -> Iterator[Found]:
    gone: list[Found] = []
    widened = 0
    is_least_widened = True
    while True:
        found = _least(problem, widened, gone)
        if found is None and problem.is_timed:
            nearest = _least(problem, None, gone)
            is_least_widened = nearest is not None and nearest.is_proven
            found = None if nearest is None else _shortest(problem, nearest, gone)
        if found is None:
            return
        found = found._replace(is_proven=found.is_proven and is_least_widened)
        widened = found.widened_min
        gone.append(found)
        yield found


def _shortest(problem: Problem, nearest: Found, gone: list[Found]) -> Found | None:
    """The least path with windows as wide as those of the nearest order, or that order where the solver gives up."""
    try:
        return _least(problem, nearest.widened_min, gone)
    except SearchEnded:
        return nearest._replace(is_proven=False)


def _least(problem: Problem, widened: int | None, gone: list[Found]) -> Found | None:
    """The order with the least path, or where `widened` is None with the least widening; None where there is none.

    Raises SearchEnded.
    """
    order = OrderModel(problem, widened)
    for found in gone:
        order.forbid(found.links)
    if gone and gone[-1].widened_min == widened and gone[-1].is_proven:
        order.no_shorter_than(gone[-1].path_u)
    solver = cp_model.CpSolver()
    # One worker and one seed: the same order every time.
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = _level(problem)
    solver.parameters.max_deterministic_time = _LONGEST
    status = solver.solve(order.model)
    if status == cp_model.UNKNOWN:
        raise SearchEnded
    if status == cp_model.INFEASIBLE:
        return None
    chains = tuple(_chain(order, solver, chain) for chain in order.chains)
    path_u = sum(problem.paths_u[pair] for chain in chains for pair in pairwise(chain))
    return Found(chains, path_u, int(solver.value(order.widened)), status == cp_model.OPTIMAL)


def _level(problem: Problem) -> int:
    """How much the solver makes of the linear relaxation; measured: with times 1 is the fastest, without them 2."""
    return 1 if problem.is_timed else 2


def _chain(order: OrderModel, solver: cp_model.CpSolver, chain: int) -> tuple[int, ...]:
    follows = {one: other for (one, other), goes in order.goes[chain].items() if solver.boolean_value(goes)}
    houses = [follows[order.mark]]
    while (following := follows[houses[-1]]) != order.mark:
        houses.append(following)
    return tuple(houses)
