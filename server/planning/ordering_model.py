"""The model of an order for OR-Tools' CP-SAT: a round trip for each chain, from a mark through its houses and back.

Of each two houses a literal says whether one comes before the other on a chain. Times need it: the later head comes no
sooner than by the shortest way from the earlier one, and that is what lets the solver prove an order best in seconds
where the round trip alone takes minutes. `tests/bench/ordering.py` tells how long it takes.
"""

from collections.abc import Iterable
from itertools import combinations, permutations
from typing import Final

from ortools.sat.python import cp_model
from ortools.sat.python.cp_model_helper import Literal

from server.planning.ordering_problem import Pair, Problem

Links = frozenset[Pair]
Literals = dict[Pair, Literal]

NO_WAY_U: Final = 10**12  # longer than anything


class OrderModel:
    """A problem as constraints, with what is to be the least as its aim.

    `widened` is by how many minutes the windows are; where it is None, that is the aim, and else the whole path is.
    `goes` has, for each chain, a literal for every two that may follow one another. The mark is numbered after the last
    house, and follows the last house of a chain, as the first follows the mark.
    """

    def __init__(self, problem: Problem, widened: int | None) -> None:
        self.problem = problem
        self.model = cp_model.CpModel()
        self.houses = range(problem.houses)
        self.mark = problem.houses
        self.chains = range(problem.chains)
        self.on = [[self.model.new_bool_var("") for _ in self.houses] for _ in self.chains]
        self.goes = [self._round_trip(chain) for chain in self.chains]
        self.paths_u = [sum(path_u * goes[pair] for pair, path_u in problem.paths_u.items()) for goes in self.goes]
        self._on_one_chain()
        self._settle()
        self.comes: Literals = {}
        if problem.is_timed or problem.settled.before:
            self._order()
        self.widened: cp_model.LinearExprT = self._times(widened) if problem.is_timed else 0
        self.model.minimize(self.widened if widened is None else sum(self.paths_u))

    def forbid(self, links: Links) -> None:
        """Leave out the order that has these links, and the same turned about where that is as good."""
        turned = {(j, i) for i, j in links} if self.problem.can_be_turned else set()
        self.model.add(sum(self._going(pair) for pair in links | turned) < len(links))

    def no_shorter_than(self, path_u: int) -> None:
        """What is known already: it saves the solver the proof."""
        self.model.add(sum(self.paths_u) >= path_u)

    def _round_trip(self, chain: int) -> Literals:
        """From the mark through every house of the chain; of two chains each has two houses at least."""
        goes: Literals = {pair: self.model.new_bool_var("") for pair in self.problem.paths_u}
        for house in self.houses:
            first = goes[self.mark, house] = self.model.new_bool_var("")
            last = goes[house, self.mark] = self.model.new_bool_var("")
            if len(self.chains) > 1:
                self.model.add_at_most_one(first, last)
        passed_by = [(house, house, ~self.on[chain][house]) for house in self.houses]
        self.model.add_circuit([*((one, other, literal) for (one, other), literal in goes.items()), *passed_by])
        return goes

    def _on_one_chain(self) -> None:
        """Every house is on one chain; which of two chains is called the first does not matter."""
        for house in self.houses:
            self.model.add_exactly_one(on[house] for on in self.on)
        self.model.add_bool_and(self.on[0][0])

    def _going(self, pair: Pair) -> cp_model.LinearExprT:
        """Whether two follow one another on any chain: 1 or 0."""
        return sum(goes[pair] for goes in self.goes if pair in goes)

    def _settle(self) -> None:
        settled = self.problem.settled
        ones = [
            *((self.mark, house) for house in settled.first),
            *((house, self.mark) for house in settled.last),
            *settled.right_before,
        ]
        for pair in ones:
            self.model.add(self._going(pair) == 1)
        for group in settled.together:
            self.model.add(sum(self._going(pair) for pair in permutations(group, 2)) == len(group) - 1)

    def _order(self) -> None:
        """Of two houses of a chain one comes first, and who follows at once comes later."""
        for i, j in combinations(self.houses, 2):
            self._order_of_two(i, j)
        for goes in self.goes:
            for (one, other), literal in goes.items():
                if one == self.mark:
                    self._none(literal, (self.comes[i, other] for i in self.houses if i != other))
                elif other == self.mark:
                    self._none(literal, (self.comes[one, i] for i in self.houses if i != one))
                else:
                    self.model.add_implication(literal, self.comes[one, other])
        if self.problem.settled.before:
            self._through()
        for pair in self.problem.settled.before:
            self.model.add_bool_and(self.comes[pair])

    def _through(self) -> None:
        """What comes before what is before a third comes before that: without times nothing else says so."""
        for i, j, k in permutations(self.houses, 3):
            self.model.add_bool_or(~self.comes[i, j], ~self.comes[j, k], self.comes[i, k])

    def _order_of_two(self, i: int, j: int) -> None:
        earlier = self.comes[i, j] = self.model.new_bool_var("")
        later = self.comes[j, i] = self.model.new_bool_var("")
        self.model.add_at_most_one(earlier, later)
        for on in self.on:
            self.model.add_bool_or(~on[i], ~on[j], earlier, later)
            for comes in (earlier, later):
                self.model.add_bool_or(~comes, ~on[i], on[j])
                self.model.add_bool_or(~comes, on[i], ~on[j])

    def _none(self, where: Literal, literals: Iterable[Literal]) -> None:
        for literal in literals:
            self.model.add_implication(where, ~literal)

    def _times(self, widened: int | None) -> cp_model.LinearExprT:
        """Where the film is as each head comes, within its window; by how many minutes the windows are widened."""
        problem = self.problem
        known_u = [mm for window in problem.windows if window is not None for mm in window]
        known_u += [] if problem.first_u is None else [problem.first_u]
        low_u, high_u = min(known_u) - problem.longest_u, max(known_u) + problem.longest_u
        most = (high_u - low_u) // problem.minute_u + 1
        by: cp_model.LinearExprT = self.model.new_int_var(0, most, "") if widened is None else widened
        heads = [self.model.new_int_var(low_u, high_u, "") for _ in self.houses]
        for head, window in zip(heads, problem.windows, strict=True):
            if window is not None:
                self.model.add(head <= window[1] + problem.minute_u * by)
                self.model.add(head >= window[0] - (0 if problem.first_u is None else problem.minute_u * by))
        for goes in self.goes:
            for (i, j), path_u in problem.paths_u.items():
                self.model.add(heads[j] == heads[i] + path_u).only_enforce_if(goes[i, j])
        for (i, j), way_u in shortest_ways(problem).items():
            self.model.add(heads[j] >= heads[i] + way_u).only_enforce_if(self.comes[i, j])
        for chain in self.chains:
            self._ends(chain, heads, self.model.new_int_var(low_u, high_u, ""))
        return by

    def _ends(self, chain: int, heads: list[cp_model.IntVar], first: cp_model.IntVar) -> None:
        """Between a chain's first head and its last lies its path: the solver sees it too late from house to house."""
        goes, on, last = self.goes[chain], self.on[chain], first + self.paths_u[chain]
        for house in self.houses:
            self.model.add(first == heads[house]).only_enforce_if(goes[self.mark, house])
            self.model.add(last == heads[house]).only_enforce_if(goes[house, self.mark])
            self.model.add(first <= heads[house]).only_enforce_if(on[house])
            self.model.add(last >= heads[house]).only_enforce_if(on[house])
        if self.problem.first_u is not None:
            self.model.add(first == self.problem.first_u)


def shortest_ways(problem: Problem) -> dict[Pair, int]:
    """The shortest way between each two houses, through others too (Floyd-Warshall); NO_WAY_U where there is none."""
    ways = {pair: problem.paths_u.get(pair, NO_WAY_U) for pair in permutations(range(problem.houses), 2)}
    for k in range(problem.houses):
        for (i, j), way_u in ways.items():
            if k not in {i, j}:
                ways[i, j] = min(way_u, ways[i, k] + ways[k, j])
    return ways
