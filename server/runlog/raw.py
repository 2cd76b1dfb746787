"""The rows of a log as they are written, for whoever sends them on: by a connection of its own, behind the writer."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from server.runlog import sqlite
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.rows import event_sum


class SummaryKey(NamedTuple):
    """Which summary a run has, without its text: as of how many events, made by which program, how long."""

    events: int
    made_by: str
    length: int


class RawRun(NamedTuple):
    """One run but for its plan's text; `last` is the number of its last event, 0 without any."""

    run: str
    plan_name: str
    created: str
    sum: int | None
    has_plan: bool
    last: int
    put_away_at: str | None
    put_away_by: str | None
    summary: SummaryKey | None


class RawEvent(NamedTuple):
    """One event as its row has it; `is_sound` is false where damage changed it."""

    seq: int
    arrived: str
    body: str
    sum: int
    is_sound: bool


class Tops(NamedTuple):
    """The last row of each table, 0 without any, and whose it is.

    What is written later is that row written anew, or comes after it, as long as it is the same one's: SQLite gives
    the places of removed rows again.
    """

    runs: int
    archived: int
    summaries: int
    events: int
    whose: tuple[str | None, ...] = (None,) * 4


class RawLog:
    """A log that another connection writes to. For one thread; every method raises RunLogFault."""

    def __init__(self, connection: sqlite3.Connection, place: str) -> None:
        """Use `reading`, which makes the parts."""
        self._connection = connection
        self._place = place

    @classmethod
    @contextmanager
    def reading(cls, folder: Path) -> Iterator["RawLog"]:
        """Read the log of a folder until the block ends."""
        file = folder / sqlite.FILE
        with told_plainly(str(folder)):
            connection = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
        try:
            sqlite.read_any_text(connection)
            yield cls(connection, str(folder))
        finally:
            connection.close()

    def data_version(self) -> int:
        """Another number whenever something was written since (SQLite, "PRAGMA data_version")."""
        return int(self._rows("PRAGMA data_version")[0][0])

    def tops(self) -> Tops:
        """How far each table goes; what takes the same time however long the log is, as `touched` and `since` do."""
        return self._tops_at(self._rows(_LAST)[0])

    def are_there(self, tops: Tops) -> bool:
        """Whether those rows are still the same ones'; if not, a removal made room, and `runs` alone tells all."""
        return self._tops_at(tops[:4]) == tops

    def _tops_at(self, rows: Sequence[int]) -> Tops:
        (in_runs, in_archived, in_summaries, in_events, *whose) = self._rows(_AT, *rows)[0]
        return Tops(in_runs, in_archived, in_summaries, in_events, tuple(whose))

    def touched(self, tops: Tops) -> dict[str, int]:
        """The runs that have events after that, each with the number of its last one."""
        return dict(self._rows("SELECT run, max(seq) FROM events WHERE rowid > ? GROUP BY run", tops.events))

    def runs(self) -> list[RawRun]:
        """Every run, the oldest first."""
        return [_run(row) for row in self._rows(f"{_RUNS} ORDER BY created, id")]

    def since(self, tops: Tops) -> list[RawRun]:
        """The runs that were made, put away or counted after that, and the last that were before it.

        One that was brought back, removed or given its plan again is told by `runs` alone.
        """
        return [_run(row) for row in self._rows(f"{_RUNS} WHERE id IN ({_SINCE})", *tops[:3])]

    def plan_text(self, run: str) -> str:
        """The text of a run's plan; empty where damage took it. Raises RunLogFault where the run has gone."""
        found = self._rows("SELECT plan_text FROM runs WHERE id = ?", run)
        if not found:
            raise RunLogFault(f"The run {run} was removed from the log in {self._place}.")
        return str(found[0][0])

    def summary(self, run: str) -> str | None:
        """The text of a run's summary."""
        found = self._rows("SELECT body FROM summaries WHERE run = ?", run)
        return str(found[0][0]) if found else None

    def events(self, run: str, after: int, most: int) -> list[RawEvent]:
        """The first events of a run after that number, at most so many."""
        return [_event(run, row) for row in self._rows(f"{_EVENTS} AND seq > ? ORDER BY seq LIMIT ?", run, after, most)]

    def last_to(self, run: str, seq: int) -> RawEvent | None:
        """The last sound event of a run up to that number; None where it has none."""
        rows = self._rows(f"{_EVENTS} AND seq <= ? ORDER BY seq DESC LIMIT 50", run, seq)
        return next((event for row in rows if (event := _event(run, row)).is_sound), None)

    def _rows(self, statement: str, *values: str | int) -> Sequence[tuple[Any, ...]]:
        with told_plainly(self._place):
            return self._connection.execute(statement, values).fetchall()


_RUNS = """
SELECT id, plan_name, created, sum, plan_text <> '',
    (SELECT coalesce(max(seq), 0) FROM events WHERE events.run = runs.id),
    archived.at, archived.by, summaries.events, made_by, length(body)
FROM runs LEFT JOIN archived ON archived.run = id LEFT JOIN summaries ON summaries.run = id
"""
_AT = """
SELECT at.*, (SELECT id || ' ' || created FROM runs WHERE rowid = in_runs),
    (SELECT run FROM archived WHERE rowid = in_archived), (SELECT run FROM summaries WHERE rowid = in_summaries),
    (SELECT run || ' ' || id FROM events WHERE rowid = in_events)
FROM (SELECT ? AS in_runs, ? AS in_archived, ? AS in_summaries, ? AS in_events) at
"""
_LAST = """
SELECT (SELECT coalesce(max(rowid), 0) FROM runs), (SELECT coalesce(max(rowid), 0) FROM archived),
    (SELECT coalesce(max(rowid), 0) FROM summaries), (SELECT coalesce(max(rowid), 0) FROM events)
"""
_SINCE = """
SELECT id FROM runs WHERE rowid >= ? UNION SELECT run FROM archived WHERE rowid >= ?
UNION SELECT run FROM summaries WHERE rowid >= ?
"""
_EVENTS = "SELECT seq, arrived, body, sum, id FROM events WHERE run = ?"


def _run(row: tuple[Any, ...]) -> RawRun:
    run, plan_name, created, sum_, has_plan, last, at, by, *summary = row
    key = None if summary[0] is None else SummaryKey(*summary)
    return RawRun(run, plan_name, created, sum_, bool(has_plan), last, at, by, key)


def _event(run: str, row: tuple[Any, ...]) -> RawEvent:
    seq, arrived, body, stored, id_ = row
    found = event_sum({"run": run, "seq": seq, "id": id_, "arrived": arrived, "body": body})
    return RawEvent(seq, arrived, body, found, stored is None or stored == found)
