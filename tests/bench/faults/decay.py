"""Logs of which bytes changed while nobody looked."""

import random
import shutil
from pathlib import Path

from tests.bench.faults.stage import PATIENCE_S, Ledger, Outcome, Place, Screen, serving, until
from tests.forked import ended
from tests.runlog.damaging import flip

EVENTS = 200
FLIPPED = 40


def damaged(folder: Path, tries: int, chance: random.Random, *, ahead: bool) -> Outcome:
    """Forty bytes flipped at random in the file, or in what is written ahead of it, then served and gone through."""
    place, ledger = Place(folder), Ledger()
    with serving(place) as server:
        screen, run_id = Screen(server), server.run_id
        for number in range(EVENTS):
            screen.report(f"e{number}", "slack_read", station="b", seconds=number / 1000)
        until(lambda: len(screen.taken) == EVENTS)
        screen.close()
        ledger.add(screen)
        (server.kill if ahead else server.stop)()
    whole, name = folder / "whole", "festoon.db-wal" if ahead else "festoon.db"
    shutil.copytree(place.data, whole)
    lost = said = doubled = unsaid = 0
    for _ in range(tries):
        shutil.rmtree(place.data)
        shutil.copytree(whole, place.data)
        file = place.data / name
        at = chance.randrange(file.stat().st_size - FLIPPED)
        flip(file, at, FLIPPED, at)
        with serving(place) as server:
            warned = "lost" in " ".join(server.snapshot()["warnings"])
            told = "lost" in server.told
        ids, said_here = place.stored(run_id)
        missing, twice = ledger.against(ids)
        lost, said, doubled = lost + missing, said + min(missing, said_here), doubled + twice
        status = _debriefed(place, run_id)
        unsaid += bool(missing) and not (warned and told and said_here >= missing and status == 1)
    fault = "bytes flipped in what is written ahead" if ahead else "bytes flipped in the file"
    return Outcome(fault, tries, tries * len(ledger.taken), lost, said, doubled, unsaid)


def _debriefed(place: Place, run_id: str) -> int:
    return ended("debrief", run_id, "--data", place.data, timeout_s=PATIENCE_S).returncode
