"""What an archive holds, measured with a PostgreSQL of its own.

    python -m tests.bench.archive [--only WORD …] [--instants 100] [--seed 1] [--taps 400] [--past 200]
        [--sites 20] [--rate 2] [--seconds 30] [--of 1000] [--runs 100] [--events 30]

`kills` ends the archive, the network or the site at random instants while somebody taps, and counts what is lost or
doubled in the archive; `taps` is what a tap takes with an archive and without, in one run, also while
`--past` runs that wait are sent; `standing` is what forwarding costs a site by how many past runs it has; `many` are
sites that forward at once, each three chains at `--rate` events a second; `year` opens library, overview and debrief
over generated data: `--of` sites with `--runs` runs of `--events` events.
"""

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.archive.kills import kills
from tests.bench.archive.many import many
from tests.bench.archive.standing import standing
from tests.bench.archive.taps import taps
from tests.bench.archive.year import year


def main() -> None:
    """Measure what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words = ("kills", "taps", "standing", "many", "year")
    parser.add_argument("--only", choices=words, nargs="+", default=words, metavar="WORD", help=", ".join(words))
    whole = {"instants": 100, "seed": 1, "taps": 400, "past": 200, "sites": 20, "of": 1000, "runs": 100, "events": 30}
    for name, default in whole.items():
        parser.add_argument(f"--{name}", type=int, default=default)
    parser.add_argument("--rate", type=float, default=2.0)
    parser.add_argument("--seconds", type=float, default=30.0)
    asked = parser.parse_args()
    parts: dict[str, Callable[[Path], Iterator[str]]] = {
        "kills": lambda folder: kills(folder, asked.instants, asked.seed),
        "taps": lambda folder: taps(folder, asked.taps, asked.past),
        "standing": standing,
        "many": lambda folder: many(folder, asked.sites, asked.rate, asked.seconds),
        "year": lambda folder: year(folder, asked.of, asked.runs, asked.events),
    }
    for word in asked.only:
        before, begun = os.getloadavg()[0], time.perf_counter()
        with tempfile.TemporaryDirectory(prefix="festoon-archive-") as folder:
            for line in parts[word](Path(folder)):
                print(f"{word}: {line}", flush=True)
        took_s, after = time.perf_counter() - begun, os.getloadavg()[0]
        print(f"{word}: took {took_s:.0f} s at a load of {before:.1f} before and {after:.1f} after\n", flush=True)


if __name__ == "__main__":
    main()
