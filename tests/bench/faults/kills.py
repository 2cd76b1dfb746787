"""Servers that are killed over and over, while people tap, contacts close and events are taken back."""

import random
import time
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.faults import bare_run
from tests.bench.faults.lives import busy
from tests.bench.faults.stage import PATIENCE_S, Ledger, Outcome, Place, Reporting, Screen, forked, until

LIVES = 20
"""Kills of one log. Chosen: with many more a start takes longer than the life itself."""

WHOLE = 5
"""Every so many lives are a whole server's, web server and all; the others are a bare run's (`bare_run.py`)."""

AT_ONCE = 2
"""Servers that live at one time, each on a log of its own. Chosen: as many as this bench's computer has cores."""

UNBORN = 0.2
"""The share of kills that come while a run starts: it opens, mends and reads its log then. Chosen."""

STARTS_S, LIVES_S = 0.2, 0.2
"""What a start takes at most, about; and the longest that a life is."""

AGAIN_S = 2.0
"""After how long a tablet says again what it was told to say again (`web/js/booth/outbox.js`)."""


class Lived(NamedTuple):
    """What came of the lives on one log."""

    taken: int
    lost: int
    doubled: int
    unsaid: int


def kills(folder: Path, tries: int, chance: random.Random) -> Outcome:
    """Killed at random moments; each log is killed a few times, then gone through."""
    begun = time.monotonic()
    rounds = [min(LIVES, tries - number) for number in range(0, tries, LIVES)]
    seeds = [chance.random() for _ in rounds]
    with ThreadPoolExecutor(AT_ONCE) as hands:
        lived = list(hands.map(lambda n: _lived(folder / f"log {n}", rounds[n], seeds[n]), range(len(rounds))))
    took_s = time.monotonic() - begun
    note = f"{took_s / max(1, tries):.2f} s a kill, {AT_ONCE} at a time, each log killed {LIVES} times"
    sums = [sum(column) for column in zip(*lived, strict=True)]
    taken, lost, doubled, unsaid = sums or [0, 0, 0, 0]
    return Outcome("killed under taps, contacts, take-backs", tries, taken, lost, 0, doubled, unsaid, note)


def _lived(folder: Path, lives: int, seed: float) -> Lived:
    """So many lives on one log. What was not answered in one is sent again in the next, as a tablet does."""
    place, ledger, chance = Place(folder), Ledger(), random.Random(seed)
    owed: dict[str, dict[str, Any]] = {}
    for number in range(lives):
        if number and chance.random() < UNBORN:
            _killed_at_its_start(place, chance)
            continue
        one = _whole_life if number % WHOLE == WHOLE - 1 else _bare_life
        screen = one(place, owed.values(), f"k{number}", chance)
        ledger.add(screen)
        owed = screen.unanswered
    with forked(place) as server:
        last = _told_again(Screen(server), owed.values())
        _settle(last)
        last.close()
        ledger.add(last)
        told, run_id = server.snapshot()["warnings"], server.run_id
    ids, _ = place.stored(run_id)
    lost, doubled = ledger.against(ids)
    renumbered = sum(ids[seq - 1 : seq] != [name] for name, seq in ledger.taken.items())
    return Lived(len(ledger.taken), lost, doubled, len(told) + renumbered + len(last.unanswered))


def _whole_life(place: Place, owed: Iterable[dict[str, Any]], prefix: str, chance: random.Random) -> Reporting:
    with forked(place) as server:
        screen = _told_again(Screen(server), owed)
        busy(screen, prefix, chance, chance.uniform(0.0, LIVES_S))
        server.kill()
        screen.close()
    return screen


def _bare_life(place: Place, owed: Iterable[dict[str, Any]], prefix: str, chance: random.Random) -> Reporting:
    process = bare_run.begun(place)
    try:
        screen = _told_again(bare_run.reporting(place), owed)
        busy(screen, prefix, chance, chance.uniform(0.0, LIVES_S))
    finally:
        process.kill()
        process.join()
    screen.close()
    return screen


def _killed_at_its_start(place: Place, chance: random.Random) -> None:
    process = bare_run.begun(place)
    time.sleep(chance.uniform(0.0, STARTS_S))
    process.kill()
    process.join()


def _told_again(screen: Reporting, owed: Iterable[dict[str, Any]]) -> Reporting:
    for event in owed:
        screen.report_again(event)
    return screen


def _settle(screen: Reporting) -> None:
    """Send what is to come again later until it is answered, as a tablet does."""
    end = time.monotonic() + PATIENCE_S
    while until(lambda: not screen.unanswered, AGAIN_S) is None and time.monotonic() < end:
        _told_again(screen, list(screen.unanswered.values()))
