"""How long an order of sixteen houses takes to find and prove, with the three next best.

    python tests/bench/ordering.py [--houses N] [--seeds N]

For houses of which the paths are those between points (metric), or any from 5 to 80 m (not metric): without times; with
times that some order meets, to the five minutes; and with times at random; for one chain and for two. The processor's
seconds of the best order alone and of all four, the worst of the seeds, and how many of the best were proven.
"""

import argparse
import random
import sys
import time
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from server.planning.ordering_problem import Pair, Problem, Settled
from server.planning.ordering_search import SearchEnded, found_orders

UNITS_PER_S = 4.56  # decimetres of 35 mm film at 24 frames a second
MINUTE_U = round(60 * UNITS_PER_S)
SLOT_MIN = 5  # advertised times are whole five minutes
EARLY_MIN, LATE_MIN = 1, 5
TIMED_SHARE = 0.8
KINDS = ("none", "met", "random")


def paths_of(count: int, chance: random.Random, *, metric: bool) -> dict[Pair, int]:
    """Paths in decimetres, both ways."""
    points = [(chance.uniform(0, 600), chance.uniform(0, 300)) for _ in range(count)]
    paths: dict[Pair, int] = {}
    for i in range(count):
        for j in range(i):
            crow = abs(points[i][0] - points[j][0]) + abs(points[i][1] - points[j][1])
            paths[i, j] = paths[j, i] = round(40 + crow) if metric else chance.randrange(50, 800)
    return paths


def windows_of(kind: str, paths: dict[Pair, int], count: int, chance: random.Random) -> tuple[Pair | None, ...]:
    """Times of four houses in five; those that are met are the slots before the heads of an order at random."""
    order = chance.sample(range(count), count)
    heads = {order[0]: chance.randrange(SLOT_MIN * MINUTE_U)}
    for one, other in pairwise(order):
        heads[other] = heads[one] + paths[one, other]
    windows: list[Pair | None] = []
    for house in range(count):
        slot = heads[house] // (SLOT_MIN * MINUTE_U) if kind == "met" else chance.randrange(5)
        at_u = slot * SLOT_MIN * MINUTE_U
        is_timed = kind != "none" and chance.random() < TIMED_SHARE
        windows.append((at_u - EARLY_MIN * MINUTE_U, at_u + LATE_MIN * MINUTE_U) if is_timed else None)
    return tuple(windows)


def problem_of(count: int, seed: int, kind: str, chains: int, *, metric: bool) -> Problem:
    """One problem of the bench."""
    chance = random.Random(f"{seed} {kind} {chains} {metric}")
    paths = paths_of(count, chance, metric=metric)
    return Problem(count, chains, paths, windows_of(kind, paths, count, chance), None, MINUTE_U, Settled())


def seconds_of(problem: Problem, count: int) -> tuple[float, bool]:
    """The processor's seconds, and whether the best was proven."""
    began = time.process_time()
    try:
        proven = found_orders(problem, count)[0].is_proven
    except SearchEnded:
        proven = False
    return time.process_time() - began, proven


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--houses", type=int, default=16)
    parser.add_argument("--seeds", type=int, default=5)
    asked = parser.parse_args()
    print(f"{asked.houses} houses, {asked.seeds} seeds: processor seconds, median and worst")
    print(f"{'paths':10} {'times':7} {'chains':6}   best alone      with three next   proven")
    for metric in (True, False):
        for kind in KINDS:
            for chains in (1, 2):
                problems = [problem_of(asked.houses, seed, kind, chains, metric=metric) for seed in range(asked.seeds)]
                best = sorted(seconds_of(problem, 1)[0] for problem in problems)
                four = sorted(seconds_of(problem, 4) for problem in problems)
                proven = sum(is_proven for _, is_proven in four)
                middle = len(problems) // 2
                name = "metric" if metric else "not metric"
                print(
                    f"{name:10} {kind:7} {chains:6}   {best[middle]:5.2f} {best[-1]:6.2f}"
                    f"    {four[middle][0]:6.2f} {four[-1][0]:6.2f}       {proven} of {len(problems)}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
