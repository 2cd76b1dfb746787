"""Simulated shows with exactly one fault each: what it does to the estimate, and whether it is told as what it is.

    python -m tests.bench.single_faults [--shows 20] [--seed 1] [--only KIND] [--wired WIRING] [--worst]

prints a row for each kind of fault and each way of being wired, and with `--worst` the shows behind each miss. A show
is given again by its line: its kind, its wiring and its seed. Two processes share the work.
"""

import argparse
import os
import time
from collections.abc import Sequence
from multiprocessing import get_context

import numpy as np
from rich.box import SIMPLE
from rich.console import Console
from rich.progress import track
from rich.table import Table

from tests.bench.single_faults.cases import KINDS, shows_of
from tests.bench.single_faults.measures import measure
from tests.bench.single_faults.summary import LEAST_NAMED, MOST_RATIO, Row, rows, worst
from tests.bench.truth.shows import WIRED

_PROCESSES = 2


def main() -> None:
    """Run the shows and print what came of them."""
    asked = _asked()
    shows = shows_of(asked.shows, asked.seed, asked.only, asked.wired)
    console = Console(width=_WIDTH)
    began_s = time.perf_counter()
    # The matrices are small: threads of one process only keep the other waiting. It is read as numpy is loaded.
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with get_context("spawn").Pool(_PROCESSES) as pool:
        done = pool.imap_unordered(measure, shows, chunksize=2)
        outcomes = list(track(done, f"{len(shows)} shows", total=len(shows), console=console))
    order = {show: n for n, show in enumerate(shows)}
    outcomes.sort(key=lambda outcome: order[outcome.show])
    console.print(_table(rows(outcomes)))
    console.print(_LEGEND, soft_wrap=True)
    _print_false(console, rows(outcomes))
    last = asked.seed + asked.shows - 1
    console.print(f"seeds {asked.seed} to {last}, {time.perf_counter() - began_s:.0f} s")
    if asked.worst:
        for line in worst(outcomes):
            console.print(line, soft_wrap=True)


# Chosen: a terminal that is narrower wraps, and a file has the whole table.
_WIDTH = 170
_LEGEND = (
    "slack: RMS error of the engine and of the best that is told the fault, from when the fault shows (target: at most "
    f"{MOST_RATIO} times it); found: the same ratio from when the engine believed the fault or named it, or, where it "
    "never did, from when it could be known: what is over there is the estimate's own, and no delay of finding it; "
    "within: share within two stated deviations; false: acts and watches a show that the truth does not bear out; "
    "known: shows in which the best could know the fault at four standard deviations, and of these: told: anything at "
    "its places, named by then: no later than what asks for somebody (target by contacts: "
    f"{LEAST_NAMED:.2f}), named: at all, each with the median of seconds after it could be known; wrong: other faults "
    "named a show"
)


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.single_faults", description=__doc__.split("\n")[0])
    parser.add_argument("--shows", type=int, default=20, help="how many of each kind and wiring")
    parser.add_argument("--seed", type=int, default=1, help="of the first; each next has the next")
    parser.add_argument("--only", choices=list(KINDS), help="only the shows of one kind")
    parser.add_argument("--wired", choices=list(WIRED), help="only the shows that are wired so")
    parser.add_argument("--worst", action="store_true", help="name the shows behind each miss")
    return parser.parse_args()


def _table(lines: Sequence[Row]) -> Table:
    table = Table(box=SIMPLE, padding=(0, 1, 0, 0))
    for name in ("kind", "wired", "shows", "slack, s", "best, s", "ratio", "found", "within", "false acts", "watches"):
        table.add_column(name, no_wrap=True)
    for name in ("known", "told (after)", "named by then", "named (after)", "wrong", "missed"):
        table.add_column(name, no_wrap=True)
    for row in lines:
        slack = (f"{row.rms_s:.3f}", f"{row.best_rms_s:.3f}", _figure(row.ratio), _figure(row.found_ratio))
        false = (_figure(row.false_acts), _figure(row.false_watches))
        told, named = _after(row.told, row.told_after_s), _after(row.named, row.named_after_s)
        names = (str(row.knowable), told, _figure(row.named_in_time), named, _figure(row.wrong))
        table.add_row(
            row.kind, row.wired, str(row.shows), *slack, _figure(row.within), *false, *names, ", ".join(row.missed)
        )
    return table


def _figure(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.2f}"


def _after(share: float, after_s: float) -> str:
    return _figure(share) + ("" if np.isnan(after_s) else f" ({after_s:.0f} s)")


def _print_false(console: Console, lines: Sequence[Row]) -> None:
    """Of what kinds the false alarms are."""
    for row in lines:
        if row.false_kinds:
            kinds = ", ".join(f"{number} {kind}" for kind, number in row.false_kinds.items())
            console.print(f"false, {row.kind} by {row.wired}: {kinds}", soft_wrap=True)


if __name__ == "__main__":
    main()
