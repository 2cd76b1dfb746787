"""What forwarding costs a site whose log is written while it holds the runs of years."""

import asyncio
import json
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from functools import partial
from pathlib import Path

from sqlalchemy import text

from server.runlog import RunLog
from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.archive.sites import forwarding, log_of
from tests.archive.waiting import until
from tests.runlog.logs import ZERO, event

RUNS = (0, 1000, 5000)
A_SECOND = 6.0
SECONDS = 10.0
COUNTED = json.dumps({"trouble": {}, "story": None, "damaged": False, "more": "x" * 8000})
"""A summary of about the length that one of a chain of sixteen has."""

CAUGHT_UP_S = 600.0


def standing(folder: Path) -> Iterator[str]:
    """By the number of past runs, all of them sent: processor seconds of the forwarding thread while one run grows."""
    with cluster() as postgres:
        archive = Archive(postgres)
        for runs in RUNS:
            at = folder / f"of{runs}"
            with log_of(at, "now") as log:
                _past(at, runs)
                with forwarding(at, archive.site(f"of{runs}")):
                    until(partial(_is_there, archive, f"of{runs}", runs), CAUGHT_UP_S, every_s=0.5)
                    begun = _thread_s()
                    asyncio.run(_write(log))
                    used_s = _thread_s() - begun
            yield f"{runs} past runs: {used_s:.3f} s of processor in {SECONDS:g} s at {A_SECOND:g} events a second"
        archive.owner.dispose()


def _is_there(archive: Archive, site: str, runs: int) -> bool:
    """Whether the archive has all of them, and what was counted of each."""
    asked = text(
        "SELECT (SELECT count(*) FROM festoon.runs WHERE site = :site), count(*) FROM festoon.summaries one"
        " WHERE one.site = :site"
    )
    with archive.owner.connect() as connection:
        return tuple(connection.execute(asked, {"site": site}).one()) == (runs + 1, runs)


def _past(folder: Path, runs: int) -> None:
    with closing(sqlite3.connect(folder / "festoon.db")) as log, log:
        for n in range(runs):
            log.execute(f"INSERT INTO runs SELECT 'past-{n}', plan_name, plan_text, created, NULL FROM runs LIMIT 1")
            log.execute("INSERT INTO summaries VALUES (?, 0, '1', ?)", (f"past-{n}", COUNTED))


def _thread_s() -> float:
    (thread,) = (one for one in threading.enumerate() if one.name == "festoon-archive")
    assert thread.ident is not None
    return time.clock_gettime(time.pthread_getcpuclockid(thread.ident))


async def _write(log: RunLog) -> None:
    begun, number = time.monotonic(), 0
    while time.monotonic() - begun < SECONDS:
        number += 1
        await log.append("now", event(f"e{number}", float(number)), ZERO)
        await asyncio.sleep(max(0.0, begun + number / A_SECOND - time.monotonic()))
