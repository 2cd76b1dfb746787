"""Servers that are killed, lose their power, or are started twice."""

import os
import random
import shutil
import signal
import time
from contextlib import closing
from pathlib import Path

from server.runlog import RunLog
from tests.bench.faults.stage import PATIENCE_S, Ledger, Outcome, Place, Reporting, Screen, serving, until
from tests.forked import ended


def busy(screen: Reporting, prefix: str, chance: random.Random, for_s: float) -> None:
    """Taps, contacts and take-backs, as fast as a crew of many hands, for so long."""
    end, number = time.monotonic() + for_s, 0
    while time.monotonic() < end:
        number += 1
        name = f"{prefix} {number}"
        if number % 5 == 0:
            screen.report(name, "retract", retracts=f"{prefix} {number - chance.randint(1, 4)}")
        elif number % 5 == 1:
            screen.report(name, chance.choice(["lamp_lit", "lamp_out"]), station="b", source="contact:north")
        else:
            screen.report(name, "slack_read", station="b", seconds=round(chance.uniform(-0.3, 0.3), 3))
        time.sleep(chance.uniform(0.0, 0.004))


def power(folder: Path, tries: int, chance: random.Random) -> Outcome:
    """The files as they are at a random moment, also with half a commit behind them, opened as after a power cut."""
    place, lost, doubled, taken, unsaid = Place(folder), 0, 0, 0, 0
    with serving(place) as server:
        screen, ledger = Screen(server), Ledger()
        for number in range(tries):
            busy(screen, f"p{number}", chance, chance.uniform(0.02, 0.2))
            os.kill(server.process.pid, signal.SIGSTOP)
            # What it had answered is on its way here: it has all to be in the copy.
            time.sleep(0.05)
            copy = folder / f"copy {number}"
            shutil.copytree(place.data, copy)
            ledger.add(screen)
            acknowledged = Ledger()
            acknowledged.taken = dict(ledger.taken)
            os.kill(server.process.pid, signal.SIGCONT)
            if number % 2:
                _tear(copy / "festoon.db-wal", chance)
            with closing(RunLog.open(copy)) as log:
                missing, twice = acknowledged.against([one.event.id for one in log.events(server.run_id)])
                unsaid += bool(log.lacking(server.run_id))
            lost, doubled, taken = lost + missing, doubled + twice, taken + len(acknowledged.taken)
            shutil.rmtree(copy)
        screen.close()
    return Outcome(
        "power cut: files copied at a moment", tries, taken, lost, 0, doubled, unsaid, "half with a torn end"
    )


def _tear(ahead: Path, chance: random.Random) -> None:
    """Half a frame more, as a disk leaves it that lost its power in a write."""
    if ahead.exists() and ahead.stat().st_size > 32:
        head = ahead.read_bytes()[:56]
        with ahead.open("ab") as file:
            file.write(head[32:40] + head[40:48] + chance.randbytes(chance.randint(8, 3000)))


def twice(folder: Path) -> Outcome:
    """A second server on the same folder ends with a sentence, and the first goes on."""
    place, ledger = Place(folder), Ledger()
    with serving(place) as server:
        screen = Screen(server)
        screen.report("before", "note", text="x")
        other = ended("serve", place.plan, "--data", place.data, "--port", "0", timeout_s=PATIENCE_S)
        screen.report("after", "note", text="x")
        until(lambda: len(screen.taken) == 2)
        screen.close()
        ledger.add(screen)
        run_id = server.run_id
    told = other.returncode == 2 and "Another Festoon is using" in other.stderr
    lost, doubled = ledger.against(place.stored(run_id)[0])
    return Outcome("two servers on one folder", 1, len(ledger.taken), lost, 0, doubled, int(not told))
