"""Faults of disk, files, power, clock, network, desks and contacts, and what each lost, doubled or left unsaid.

    python -m tests.bench.faults [--tries 20] [--kills 100] [--seed 1] [--only WORD …]

Each befalls a server in a process of its own, with its log on this computer's disk; a full disk asks for root and a
mount. `lost` counts events that were acknowledged and are not in the log, and taps that a tablet could not bring;
`said` those of them that are told as lost; `unsaid` what nobody was told, or was otherwise than live's README has it.
Beside what desks and contacts do wrong stands how long a tap waited for its answer, and how much the server grew. Ends
with status 1 where anything was lost without a word, doubled or unsaid.
"""

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.bench.faults import clocks, decay, desks, disks, feeds, kills, lives, network
from tests.bench.faults.stage import Outcome

WIDTH = 150
Trial = Callable[[Path], Outcome | None]


def trials(tries: int, killed: int, chance: random.Random) -> Iterator[tuple[str, Trial]]:
    """Every fault by the word that chooses it."""
    yield "kills", lambda folder: kills.kills(folder, killed, chance)
    yield "power", lambda folder: lives.power(folder, tries, chance)
    yield "full", disks.no_room
    yield "readonly", disks.failing_writes
    yield "locked", disks.locked
    yield "moved", disks.moved
    yield "damaged", lambda folder: decay.damaged(folder, tries, chance, ahead=False)
    yield "ahead", lambda folder: decay.damaged(folder, tries, chance, ahead=True)
    yield "behind", clocks.behind
    yield "jumping", clocks.jumping
    yield "twice", lives.twice
    yield "stalling", desks.stalling
    yield "reconnecting", desks.reconnecting
    yield "nonsense", desks.nonsense
    yield "utf8", desks.no_utf8
    yield "big", desks.too_big
    yield "flooding", desks.flooding
    yield "halves", desks.halves
    yield "box-floods", feeds.floods
    yield "box-hangs", feeds.hangs
    yield "box-dies", feeds.dies
    yield "slow", network.delayed
    yield "still", network.stalled
    yield "refusing", network.refused
    yield "reset", lambda folder: network.broken(folder, tries)
    yield "half", lambda folder: network.halved(folder, tries)


def main() -> None:
    """Try all that was asked for, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tries", type=int, default=20, metavar="N", help="of what is done at random moments")
    parser.add_argument("--kills", type=int, default=100, metavar="N", help="of a server that runs")
    parser.add_argument("--seed", type=int, default=1)
    words = [word for word, _ in trials(0, 0, random.Random())]
    parser.add_argument("--only", choices=words, nargs="+", default=words, metavar="WORD", help=", ".join(words))
    asked = parser.parse_args()
    console, begun = Console(width=None if sys.stdout.isatty() else WIDTH), time.perf_counter()
    outcomes: list[Outcome] = []
    for word, trial in trials(asked.tries, asked.kills, random.Random(asked.seed)):
        if word in asked.only:
            with tempfile.TemporaryDirectory(prefix="festoon-faults-", ignore_cleanup_errors=True) as folder:
                outcome = trial(Path(folder))
            if outcome is None:
                console.print(f"{word}: left out, as this needs root and a mount")
            else:
                outcomes.append(outcome)
    console.print(_table(outcomes))
    console.print(f"seed {asked.seed}, {time.perf_counter() - begun:.0f} s")
    # What was not tried has not passed.
    sys.exit(not outcomes or not all(outcome.is_good for outcome in outcomes))


def _table(outcomes: list[Outcome]) -> Table:
    table = Table("fault", "tries", "acknowledged", "lost", "said", "doubled", "unsaid", "good", "seen")
    for one in outcomes:
        figures = [str(each) for each in (one.tries, one.taken, one.lost, one.said, one.doubled, one.unsaid)]
        table.add_row(one.fault, *figures, "yes" if one.is_good else "NO", one.note)
    return table


if __name__ == "__main__":
    main()
