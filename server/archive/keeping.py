"""What is let go of, each time because somebody said so, and a site's runs handed on as a log of its own."""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any, Final, NamedTuple

import orjson
from sqlalchemy import Connection, text

from server.archive.faults import ArchiveFault
from server.runlog import RunLog
from server.runlog.backup import Copied, backup_to_file
from server.runlog.rows import event_sum
from server.runlog.sums import sum_of

AT_ONCE: Final = 5000
"""Events held in memory while a site is handed on. Chosen."""


class Gone(NamedTuple):
    """How much was let go of, or would be."""

    runs: int
    events: int


def let_go(connection: Connection, site: str, run: str) -> Gone:
    """Let go of a run: its row says so, that its site does not send it again. Raises ArchiveFault."""
    given = {"site": site, "run": run}
    found = connection.execute(text(_ONE), given).one_or_none()
    if found is None:
        raise ArchiveFault(f"The archive has no run {run!r} of {site!r}: `festoon archive serve` lists them.")
    # First its row: a site that is sending waits for that, and finds then that it is not wanted.
    for statement in (_MARK, *_DELETING):
        connection.execute(text(f"{statement} WHERE site = :site AND run = :run"), given)
    return Gone(1, found.events)


def would_go(connection: Connection, before: date) -> Gone:
    """How much there is of months before that one."""
    asked = "SELECT count(*), coalesce(sum(events), 0) FROM festoon.runs WHERE month < :month AND deleted IS NULL"
    return Gone(*connection.execute(text(asked), {"month": _first_day(before)}).one())


def let_go_before(connection: Connection, before: date) -> Gone:
    """Let go of all runs of months before that one; their events go by the month, which takes no time."""
    given = {"month": _first_day(before)}
    gone = would_go(connection, before)
    for partition in connection.execute(text(_MONTHS), given).scalars().all():
        connection.exec_driver_sql(f'DROP TABLE festoon."{partition}"')
    old = "(SELECT FROM festoon.runs WHERE runs.site = one.site AND runs.run = one.run AND runs.month < :month)"
    for table in ("summaries", "pictures"):
        connection.execute(text(f"DELETE FROM festoon.{table} one WHERE EXISTS {old}"), given)  # noqa: S608 - constants
    connection.execute(text(f"{_MARK} WHERE month < :month AND deleted IS NULL"), given)
    return gone


def export_site(connection: Connection, site: str, file: Path) -> Copied:
    """Write all runs of a site as a backup, which `festoon restore` makes a site's log of. Raises ArchiveFault.

    Raises RunLogFault where the file is there already, or cannot be written.
    """
    if not connection.execute(text("SELECT 1 FROM festoon.sites WHERE name = :site"), {"site": site}).first():
        raise ArchiveFault(f"The archive has no site {site!r}: `festoon archive site list` says which it has.")
    with tempfile.TemporaryDirectory(prefix="festoon-") as folder:
        RunLog.open(folder).close()
        with closing(sqlite3.connect(Path(folder) / "festoon.db")) as log, log:
            for row in connection.execute(text(_RUNS), {"site": site}).all():
                log.execute("INSERT INTO runs VALUES (?, ?, ?, ?, ?)", _run_row(row))
                if row.put_away_at is not None:
                    log.execute("INSERT INTO archived VALUES (?, ?, ?)", (row.run, row.put_away_at, row.put_away_by))
                log.executemany("INSERT INTO events VALUES (?, ?, ?, ?, ?, ?)", _event_rows(connection, site, row))
                kept = connection.execute(text(_KEPT), {"site": site, "run": row.run}).all()
                log.executemany("INSERT INTO summaries VALUES (?, ?, ?, ?)", [tuple(one) for one in kept])
        return backup_to_file(folder, file)


def _run_row(row: Any) -> tuple[Any, ...]:  # noqa: ANN401 - a row of _RUNS
    told = (row.run, row.plan_name, row.plan_text, row.created)
    return (*told, sum_of(*told))


def _event_rows(connection: Connection, site: str, run: Any) -> Iterator[tuple[Any, ...]]:  # noqa: ANN401 - likewise
    given = {"site": site, "run": run.run, "month": run.month}
    stream = connection.execution_options(stream_results=True, max_row_buffer=AT_ONCE)
    for row in stream.execute(text(_EVENTS), given):
        told = {"run": run.run, "seq": row.seq, "id": orjson.loads(row.body)["id"], "arrived": row.arrived}
        told["body"] = row.body
        yield (*told.values(), event_sum(told))


def _first_day(day: date) -> date:
    return day.replace(day=1)


_DELETING = ("DELETE FROM festoon.events", "DELETE FROM festoon.summaries", "DELETE FROM festoon.pictures")
_ONE = "SELECT events FROM festoon.runs WHERE site = :site AND run = :run AND deleted IS NULL"
_MARK = """
UPDATE festoon.runs SET deleted = now(), plan_text = '', words = '', plan_words = '', houses = '{}', facts = NULL,
    fault = NULL, trouble = NULL, state = NULL, put_away_at = NULL, put_away_by = NULL
"""
_MONTHS = """
SELECT relname FROM pg_inherits JOIN pg_class ON pg_class.oid = inhrelid
WHERE inhparent = 'festoon.events'::regclass AND relname < 'events_' || to_char(CAST(:month AS date), 'YYYY_MM')
"""
_RUNS = """
SELECT run, month, plan_name, plan_text, created, put_away_at, put_away_by FROM festoon.runs
WHERE site = :site AND deleted IS NULL ORDER BY created, run
"""
_EVENTS = """
SELECT seq, arrived, body FROM festoon.events WHERE site = :site AND run = :run AND month = :month ORDER BY seq
"""
_KEPT = "SELECT run, events, made_by, body FROM festoon.summaries WHERE site = :site AND run = :run"
