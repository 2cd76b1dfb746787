"""Logs with events in them, and bytes of them flipped."""

import asyncio
import random
import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from server.runlog import RunLog
from tests.runlog.logs import ZERO, add_run, event

RUNS = ("r1", "r2")
EVENTS = 24
PAGE = 4096


def written(folder: Path, *, ahead: bool = False) -> Path:
    """A folder with two runs of 24 events each; with `ahead` as a kill leaves it, much of it only written ahead."""
    live = folder / "live"
    log = RunLog.open(live)
    for run in RUNS:
        add_run(log, run)
    asyncio.run(_append(log))
    if not ahead:
        log.close()
        return live
    killed = folder / "killed"
    shutil.copytree(live, killed)
    log.close()
    return killed


async def _append(log: RunLog) -> None:
    for number in range(1, EVENTS + 1):
        for run in RUNS:
            # Every seventh goes over into pages of its own.
            text = f"{run} {number} " + ("x" * 300 if number % 7 else "\U0001f39e" * 1900)
            await log.append(run, event(f"e{number}", number, text), ZERO)


def flip(file: Path, at: int, count: int, seed: int) -> None:
    """Change so many bytes from `at` on, each to another."""
    chance = random.Random(seed)
    data = bytearray(file.read_bytes())
    for place in range(at, min(at + count, len(data))):
        data[place] ^= chance.randrange(1, 256)
    file.write_bytes(data)


def places(file: Path, count: int) -> Iterator[int]:
    """Two places in every page: at its head and towards its end."""
    for page in range(0, file.stat().st_size, PAGE):
        yield from (page + offset for offset in (0, PAGE - 2 * count))


def judged(folder: Path) -> tuple[int, list[str]]:
    """Open a damaged log: how many events it told as lost, and what is wrong with what it says of the others."""
    with closing(RunLog.open(folder)) as log:
        lost, wrong = 0, list[str]()
        there = {run.run_id for run in log.runs()}
        for run in RUNS:
            if run not in there:
                wrong.append(f"{run} is gone")
                continue
            log.note_damage(run, ZERO)
            gone = {number for one in log.lost(run) for number in range(one.first, one.last + 1)}
            kept = {stored.seq: stored.event for stored in log.events(run)}
            lost += len(gone)
            for number in range(1, EVENTS + 1):
                text = f"{run} {number} "
                if number in kept and not (kept[number].text or "").startswith(text):
                    wrong.append(f"event {number} of {run} is another: {kept[number]}")
                if number not in kept and number not in gone:
                    wrong.append(f"event {number} of {run} is gone and nobody is told")
            if gone and not any("lost" in (stored.event.text or "") for stored in log.events(run)):
                wrong.append(f"{run} lost {len(gone)} and has no note of it")
    return lost, wrong
