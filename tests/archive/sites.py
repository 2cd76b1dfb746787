"""A site's log that grows, its forwarding, and what the archive has of it."""

import asyncio
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import text

from server.archive.forwarding import Forwarding
from server.archive.place import archive_address
from server.runlog import RunLog
from tests.archive.conftest import Archive
from tests.archive.waiting import until
from tests.runlog.logs import ZERO, event

PLAN = (Path(__file__).parents[2] / "fixtures/plans/larkspur.plan.toml").read_text(encoding="utf-8")

Rows = list[tuple[int, str, str, int]]


def now() -> datetime:
    return datetime.now(UTC)


def grow(log: RunLog, run: str, first: int, last: int, word: str = "") -> None:
    """Write events of these numbers; another word makes them others."""

    async def write() -> None:
        events = [event(f"{word}{number}", float(number)) for number in range(first, last + 1)]
        await asyncio.gather(*(log.append(run, one, ZERO) for one in events))

    asyncio.run(write())


@contextmanager
def log_of(folder: Path, *runs: str, plan: str = PLAN) -> Iterator[RunLog]:
    """A log with these runs, as it was left."""
    with closing(RunLog.open(folder)) as log:
        there = {stored.run_id for stored in log.runs()}
        for run in runs:
            if run not in there:
                log.create_run(run, plan, "larkspur.plan.toml", ZERO)
        yield log


@contextmanager
def forwarding(folder: Path, url: str) -> Iterator[Forwarding]:
    """A log that is being forwarded."""
    with Forwarding(archive_address(url), folder, now) as made:
        yield made


def in_log(folder: Path, run: str) -> Rows:
    with closing(sqlite3.connect(folder / "festoon.db")) as log:
        return log.execute("SELECT seq, arrived, body, sum FROM events WHERE run = ? ORDER BY seq", (run,)).fetchall()


def in_archive(archive: Archive, site: str, run: str) -> Rows:
    asked = text("SELECT seq, arrived, body, sum FROM festoon.events WHERE site = :site AND run = :run ORDER BY seq")
    with archive.owner.connect() as connection:
        return [tuple(row) for row in connection.execute(asked, {"site": site, "run": run})]


def branches(archive: Archive, site: str) -> list[str]:
    asked = text("SELECT run FROM festoon.runs WHERE site = :site ORDER BY run")
    with archive.owner.connect() as connection:
        return list(connection.execute(asked, {"site": site}).scalars())


def arrives(archive: Archive, folder: Path, site: str, run: str, branch: str = "") -> None:
    """Wait until the archive has a run just as the log has it, each event once."""
    until(lambda: in_log(folder, run) == in_archive(archive, site, branch or run))
