"""Shows driven wholly by contacts, through other people's servers, in real time.

    python -m tests.bench.contact_shows [--seeds 100] [--first 1] [--only SEED ...] [--at-once 4] [--come-first]

plays a short show of four houses for each seed: House 1 by libmodbus over TCP, House 2 by libmodbus on a serial line,
House 3 by status lines through ser2net, House 4 by lines of text through ser2net. Every edge bounces for 5 to 30 ms, a
tenth of the lines is damaged, and by its seed one to three things go wrong with parts, contacts or the server. The film
does what it should, so that every act that is told is false. Prints each measure beside its target, and the seed and
the event of each miss.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from functools import partial
from multiprocessing import get_context

from rich.console import Console
from rich.progress import track
from rich.table import Table

from tests.bench.contact_shows.judging import judged
from tests.bench.contact_shows.summary import Line, acts_by_kind, misses, summary

WIDTH = 120


def main() -> None:
    """Play the shows and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=100, metavar="N", help="how many shows")
    parser.add_argument("--first", type=int, default=1, metavar="SEED", help="the first show's seed")
    parser.add_argument("--only", type=int, nargs="+", metavar="SEED", help="these shows, whatever else is asked for")
    parser.add_argument("--at-once", type=int, default=4, metavar="N", help="how many are played at once")
    parser.add_argument(
        "--come-first", action="store_true", help="before all else on this computer, as on one at rest (root)"
    )
    asked = parser.parse_args()
    seeds = asked.only or range(asked.first, asked.first + asked.seeds)
    console, began = Console(width=None if sys.stdout.isatty() else WIDTH), time.perf_counter()
    # One process for each show: what one took of a processor is then its own.
    with get_context("spawn").Pool(asked.at_once, maxtasksperchild=1) as pool:
        played = pool.imap_unordered(partial(judged, first=asked.come_first), seeds)
        shows = list(track(played, f"{len(seeds)} shows", total=len(seeds), console=console))
    console.print(_table(list(summary(shows))))
    console.print(f"false acts by kind: {acts_by_kind(shows)}")
    took_s = time.perf_counter() - began
    console.print(f"seeds {seeds[0]} to {seeds[-1]}, {asked.at_once} at once, {took_s:.0f} s")
    for line in misses(shows):
        console.print(line, soft_wrap=True, highlight=False, markup=False)


def _table(lines: list[Line]) -> Table:
    table = Table("measure", "found", "of", "target", "met")
    for line in lines:
        table.add_row(line.what, line.told, str(line.number), line.target, "".join(_met(line)))
    return table


def _met(line: Line) -> Iterator[str]:
    if line.met is not None:
        yield "yes" if line.met else "NO"


if __name__ == "__main__":
    main()
