"""Orders found by going through all of them, or by dynamic programming: what the solver's are held against."""

from collections.abc import Iterator, Mapping
from itertools import accumulate, pairwise, permutations

import numpy as np

from server.planning.ordering_problem import Pair, Problem

Chains = tuple[tuple[int, ...], ...]
Worth = tuple[int, int]


def best_by_brute_force(problem: Problem, count: int) -> list[Worth]:
    """By how many minutes the windows are widened, and the path, of the best orders: every order is tried."""
    worths = {_same(problem, chains): _worth(problem, chains) for chains in _every_order(problem)}
    return sorted(worths.values())[:count]


def is_kept(problem: Problem, chains: Chains) -> bool:
    """Whether an order goes along measured paths, through every house once, and keeps what is settled."""
    settled = problem.settled
    where = {house: (number, k) for number, chain in enumerate(chains) for k, house in enumerate(chain)}
    steps = [step for chain in chains for step in pairwise(chain)]
    spans = [[where[house] for house in group] for group in settled.together]
    return (
        sorted(where) == list(range(problem.houses)) == sorted(house for chain in chains for house in chain)
        and all(step in problem.paths_u for step in steps)
        and all(where[house][1] == 0 for house in settled.first)
        and all(where[house][1] == len(chains[where[house][0]]) - 1 for house in settled.last)
        and all(where[a][0] == where[b][0] and where[a][1] < where[b][1] for a, b in settled.before)
        and all(pair in steps for pair in settled.right_before)
        and all(len({chain for chain, _ in span}) == 1 for span in spans)
        and all(max(k for _, k in span) - min(k for _, k in span) == len(span) - 1 for span in spans)
    )


def _every_order(problem: Problem) -> Iterator[Chains]:
    for order in permutations(range(problem.houses)):
        cuts: list[Chains] = (
            [(order,)] if problem.chains == 1 else [(order[:k], order[k:]) for k in range(2, problem.houses - 1)]
        )
        yield from (chains for chains in cuts if is_kept(problem, chains))


def _same(problem: Problem, chains: Chains) -> frozenset[tuple[int, ...]]:
    turned = [min(chain, chain[::-1]) if problem.can_be_turned else chain for chain in chains]
    return frozenset(turned)


def _worth(problem: Problem, chains: Chains) -> Worth:
    path_u = sum(problem.paths_u[step] for chain in chains for step in pairwise(chain))
    return max(_widened_min(problem, chain) for chain in chains), path_u


def _widened_min(problem: Problem, chain: tuple[int, ...]) -> int:
    """Whole minutes that the windows lack for the best start of one chain, or for the start that is given."""
    ways = [0, *accumulate(problem.paths_u[step] for step in pairwise(chain))]
    windows = [(problem.windows[house], way) for house, way in zip(chain, ways, strict=True)]
    firsts = [(window[0] - way, window[1] - way) for window, way in windows if window is not None]
    if not firsts:
        return 0
    earliest, latest = max(low for low, _ in firsts), min(high for _, high in firsts)
    if problem.first_u is None:
        lacking = earliest - latest
    else:
        lacking = max(problem.first_u - latest, earliest - problem.first_u)
    return max(0, -(-lacking // problem.minute_u))


def shortest_path(paths: Mapping[Pair, int], houses: int) -> int:
    """The least path through all of them, by Held and Karp's dynamic programming (1962)."""
    no_way = 10**9
    lengths = np.full((houses, houses), no_way, dtype=np.int64)
    for pair, length in paths.items():
        lengths[pair] = length
    best = np.full((1 << houses, houses), no_way, dtype=np.int64)
    for house in range(houses):
        best[1 << house, house] = 0
    for been in range(1, 1 << houses):
        onward = (best[been][:, None] + lengths).min(axis=0)
        for house in range(houses):
            if not been >> house & 1:
                further = been | 1 << house
                best[further, house] = min(best[further, house], onward[house])
    return int(best[-1].min())
