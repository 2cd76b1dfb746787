"""What a server holds, measured beside a bare `websockets` broadcast of the same bytes.

    python -m tests.bench.load [--minutes 5] [--desks 500] [--stalled 50] [--chains 16] [--runs 1000] [--back 200]
        [--only WORD …]

`show` is thirty stations with contacts at 20 changes a second on a text port, two taps a second, and hundreds of desks
of which some never read, for `--minutes`: its first and last fifth are its start and its end. `chains` are sixteen runs
in one server, `library` is a log of a thousand runs, `back` are two hundred desks that connect at once. All desks are
in this program, on the same processors: what it takes to read for them is in every time, the bare server's too. Ends
with status 1 where a goal is missed.
"""

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.bench.load.chains import chains
from tests.bench.load.library import library
from tests.bench.load.returning import returning
from tests.bench.load.rows import Row
from tests.bench.load.steady import steady

WIDTH = 170
CHAINS_S = 30.0


def main() -> None:
    """Measure what was asked for, and print it with its goals."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=5.0, help="of the show")
    parser.add_argument("--desks", type=int, default=500)
    parser.add_argument("--stalled", type=int, default=50, help="of the desks")
    parser.add_argument("--chains", type=int, default=16)
    parser.add_argument("--runs", type=int, default=1000, help="in the log")
    parser.add_argument("--back", type=int, default=200, help="desks that come back at once")
    words = ("show", "chains", "library", "back")
    parser.add_argument("--only", choices=words, nargs="+", default=words, metavar="WORD", help=", ".join(words))
    asked = parser.parse_args()
    parts: dict[str, Callable[[Path], Iterator[Row]]] = {
        "show": lambda folder: steady(folder, asked.minutes, asked.desks, asked.stalled),
        "chains": lambda folder: chains(folder, asked.chains, CHAINS_S),
        "library": lambda folder: library(folder, asked.runs),
        "back": lambda folder: returning(folder, asked.back),
    }
    console, missed = Console(width=None if sys.stdout.isatty() else WIDTH), 0
    for word in asked.only:
        before, begun = os.getloadavg()[0], time.perf_counter()
        with tempfile.TemporaryDirectory(prefix="festoon-load-") as folder:
            rows = list(parts[word](Path(folder)))
        console.print(_table(rows))
        took_s, after = time.perf_counter() - begun, os.getloadavg()[0]
        console.print(
            f"{took_s:.0f} s; {os.cpu_count()} processors, load average {before:.1f} before, {after:.1f} after"
        )
        missed += sum(row.is_met is False for row in rows)
    sys.exit(missed > 0)


def _table(rows: Iterable[Row]) -> Table:
    table = Table("measure", "figures", "goal", "met")
    for row in rows:
        table.add_row(row.what, row.figures, row.goal, {None: "", True: "yes", False: "NO"}[row.is_met])
    return table


if __name__ == "__main__":
    main()
