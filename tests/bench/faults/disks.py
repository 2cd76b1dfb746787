"""Logs that cannot be written for a while: no room, failing writes, locked, moved away."""

import os
import resource
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from tests.bench.faults.stage import Ledger, Outcome, Place, Screen, Server, serving, until

TOLD_WITHIN_S = 3.0
"""What a disk takes to be known as slow is a heartbeat or two."""

Befalls = Callable[[Place, Server], AbstractContextManager[None]]


def no_room(folder: Path) -> Outcome | None:
    """A disk of a megabyte that fills up; None where this system mounts none."""
    place = Place(folder)
    place.data.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(place.data)]
    if os.geteuid() != 0 or subprocess.run(mount, check=False, capture_output=True).returncode:
        return None
    try:
        return _lived_through("disk full", place, _filled)
    finally:
        subprocess.run(["umount", "-l", str(place.data)], check=False)


def failing_writes(folder: Path) -> Outcome:
    """Every write fails, as on a disk that turned read-only."""
    return _lived_through("writes fail, as on a disk gone read-only", Place(folder), _unwritable)


def locked(folder: Path) -> Outcome:
    """Another program keeps the database for five seconds."""
    return _lived_through("locked by another program", Place(folder), _locked)


def moved(folder: Path) -> Outcome:
    """The folder is renamed, and put back."""
    return _lived_through("folder moved away and back", Place(folder), _moved)


def _lived_through(fault: str, place: Place, befalls: Befalls) -> Outcome:
    """A motor stops, and people tap, while the log cannot be written."""
    ledger, unsaid, notes = Ledger(), 0, []
    with serving(place) as server:
        screen = Screen(server)
        for number, station in enumerate("ab"):
            screen.report(f"start {number}", "motor_start", station=station, source="contact:north")
        until(lambda: len(screen.taken) == 2)
        with befalls(place, server):
            before = dict(screen.taken)
            screen.report("stop", "motor_stop", station="a", source="contact:north")
            screen.report("tap", "note", text="It stands.")
            told_s = until(lambda: any(screen.warnings[-1:] and screen.warnings[-1]), TOLD_WITHIN_S)
            seen_s = until(lambda: "motor_lost:a" in screen.alarms, TOLD_WITHIN_S)
            unsaid += (told_s is None) + (seen_s is None) + bool(set(screen.taken) - set(before))
            unsaid += not any("not written" in text or "written down" in text for text in server.snapshot()["warnings"])
            notes.append(f"told after {told_s or -1:.1f} s, the stop shown after {seen_s or -1:.1f} s")
        written_s = until(lambda: screen.warnings[-1:] == [[]])
        unsaid += written_s is None
        notes.append(f"written {written_s or -1:.1f} s after")
        for name in ("stop", "tap", "last"):
            screen.report(name, "motor_stop" if name == "stop" else "note", **_same(name))
        until(lambda: "last" in screen.taken, 5.0)
        screen.close()
        ledger.add(screen)
        run_id = server.run_id
        server.stop()
    ids, _ = place.stored(run_id)
    lost, doubled = ledger.against([*ids])
    lost += len({"stop", "tap"} - set(ids))
    return Outcome(fault, 1, len(ledger.taken), lost, 0, doubled, unsaid, "; ".join(notes))


def _same(name: str) -> dict[str, str]:
    if name == "stop":
        return {"station": "a", "source": "contact:north"}
    return {"text": "It stands." if name == "tap" else "x"}


@contextmanager
def _filled(place: Place, _server: Server) -> Iterator[None]:
    ballast = place.data / "ballast"
    room = os.statvfs(place.data)
    ballast.write_bytes(b"x" * room.f_bavail * room.f_frsize)
    yield
    ballast.unlink()


@contextmanager
def _unwritable(_place: Place, server: Server) -> Iterator[None]:
    before = resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (1, resource.RLIM_INFINITY))
    yield
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, before)


@contextmanager
def _locked(place: Place, _server: Server) -> Iterator[None]:
    other = sqlite3.connect(place.data / "festoon.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    begun = time.monotonic()
    yield
    time.sleep(max(0.0, 5.0 - (time.monotonic() - begun)))
    other.execute("ROLLBACK")
    other.close()


@contextmanager
def _moved(place: Place, _server: Server) -> Iterator[None]:
    elsewhere = place.data.with_name("elsewhere")
    place.data.rename(elsewhere)
    yield
    elsewhere.rename(place.data)
