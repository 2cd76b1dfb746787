"""The log itself: runs and their events, through SQLAlchemy Core."""

import asyncio
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

import orjson
from sqlalchemy import Connection, Engine, Row, bindparam, create_engine, func, insert, make_url, select

from server.runlog import sqlite
from server.runlog.faults import ELSEWHERE, RunLogFault, told_plainly
from server.runlog.migrations import upgrade
from server.runlog.pairings import PairingTable
from server.runlog.tables import events, runs
from server.runlog.writer import Writer
from server.timeline.events import Event, EventFault, event_from_json, json_from_event, rfc3339, time_from_rfc3339


class StoredRun(NamedTuple):
    """One run of the log, with the whole text of its plan."""

    run_id: str
    plan_name: str
    plan_text: str
    created: datetime


class StoredEvent(NamedTuple):
    """One event of the log: `seq` counts from 1 in its run, `arrived` is the run's time at which it was taken."""

    seq: int
    event: Event
    arrived: datetime


class RunLog:
    """One log, open. Reads may come from any thread; writes go through one thread and share commits."""

    def __init__(self, engine: Engine, place: str, lock: sqlite3.Connection | None) -> None:
        """Use `open`, which makes the parts."""
        self._engine = engine
        self._place = place
        self._lock = lock
        self._last_seq: dict[str, int] = {}
        self._writer = Writer(
            engine, place, self._last_seq.clear, sqlite.checkpoint if _on_sqlite(engine) else _nothing
        )

    @classmethod
    def open(cls, where: str | Path) -> "RunLog":
        """Open the log of a folder (made if need be), or at a database URL, and upgrade it to this version.

        Raises RunLogFault where it cannot be written, is another process's, is not a log, or is a newer program's.
        """
        if "://" in str(where):
            return cls(_upgraded_engine(str(where), _without_password(str(where))), _without_password(str(where)), None)
        lock = sqlite.keep_folder(Path(where))
        try:
            return cls(_upgraded_engine(f"sqlite:///{Path(where) / sqlite.FILE}", str(where)), str(where), lock)
        except BaseException:
            lock.close()
            raise

    @property
    def devices(self) -> PairingTable:
        """The paired devices, which are kept beside the runs."""
        return PairingTable(self._engine, self._writer, self._place)

    def close(self) -> None:
        """Write what was asked for, and let go of the database and its folder."""
        self._writer.close()
        self._engine.dispose()
        if self._lock is not None:
            self._lock.close()

    def create_run(self, run_id: str, plan_text: str, plan_name: str, created: datetime) -> None:
        """Write down a new run, and wait until it is on disk. Raises RunLogFault, also where the id is taken."""
        row = {"id": run_id, "plan_name": plan_name, "plan_text": plan_text, "created": rfc3339(created)}
        if any(stored.run_id == run_id for stored in self.runs()):
            raise RunLogFault(f"The log in {self._place} has a run {run_id} already: name the new one otherwise.")
        self._writer.ask(lambda connection: connection.execute(insert(runs).values(row)).rowcount).result()

    def runs(self) -> list[StoredRun]:
        """Every run, the oldest first. Raises RunLogFault."""
        with told_plainly(self._place), self._engine.connect() as connection:
            return [_run(row) for row in connection.execute(select(runs).order_by(runs.c.created, runs.c.id))]

    def events(self, run_id: str) -> list[StoredEvent]:
        """The events of a run, in the order in which they were taken; none for a run that is not there.

        Raises RunLogFault, also for an event that this program does not know.
        """
        asked = select(events).where(events.c.run == run_id).order_by(events.c.seq)
        with told_plainly(self._place), self._engine.connect() as connection:
            return [self._event(row) for row in connection.execute(asked)]

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]:
        """Begin to write an event of a run; call it in the running loop.

        The result is the event's number in its run, once it is on disk. Numbers are given, and results come, in the
        order of the calls. Where it cannot be written the result is a RunLogFault, and the log can still be used.
        """
        body = orjson.dumps(json_from_event(event)).decode()
        row = {"run": run_id, "id": event.id, "arrived": rfc3339(arrived), "body": body}
        return asyncio.wrap_future(self._writer.ask(lambda connection: self._insert(connection, row)))

    def _insert(self, connection: Connection, row: dict[str, str]) -> int:
        """In the writer's thread, which alone knows the last numbers and forgets them when a commit came to nothing."""
        run_id = row["run"]
        if run_id not in self._last_seq:
            self._last_seq[run_id] = connection.execute(_LAST_SEQ, {"run_id": run_id}).scalar_one()
        seq = self._last_seq[run_id] + 1
        connection.execute(_INSERT, {"seq": seq, **row})
        self._last_seq[run_id] = seq
        return seq

    def _event(self, row: Row[Any]) -> StoredEvent:
        try:
            return StoredEvent(row.seq, event_from_json(row.body), time_from_rfc3339(row.arrived))
        except EventFault as fault:
            raise RunLogFault(
                f"The log in {self._place} has an event that this Festoon cannot read, number {row.seq} of {row.run}"
                f" ({fault}): start the Festoon that wrote it, or {ELSEWHERE}."
            ) from fault


_LAST_SEQ = select(func.coalesce(func.max(events.c.seq), 0)).where(events.c.run == bindparam("run_id"))
_INSERT = insert(events)


def _run(row: Row[Any]) -> StoredRun:
    return StoredRun(row.id, row.plan_name, row.plan_text, time_from_rfc3339(row.created))


def _upgraded_engine(url: str, place: str) -> Engine:
    with told_plainly(place):
        engine = create_engine(url)
        try:
            if _on_sqlite(engine):
                sqlite.prepare(engine)
            with engine.begin() as connection:
                upgrade(connection)
        except BaseException:
            engine.dispose()
            raise
        return engine


def _on_sqlite(engine: Engine) -> bool:
    return engine.dialect.name == "sqlite"


def _nothing(connection: Connection) -> None:
    """What databases other than SQLite need in a pause."""


def _without_password(url: str) -> str:
    return make_url(url).render_as_string(hide_password=True)
