"""The log itself: runs and their events, through SQLAlchemy Core."""

import asyncio
import sqlite3
from datetime import datetime
from pathlib import Path

import orjson
from sqlalchemy import Connection, Engine, bindparam, create_engine, func, insert, make_url, select

from server.runlog import sqlite
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.library import LibraryTable
from server.runlog.migrations import upgrade
from server.runlog.pairings import PairingTable
from server.runlog.stored import StoredRuns
from server.runlog.tables import events, runs
from server.runlog.writer import Writer
from server.timeline.events import Event, json_from_event, rfc3339


class RunLog(StoredRuns):
    """One log, open. Reads may come from any thread; writes go through one thread and share commits."""

    def __init__(self, engine: Engine, place: str, lock: sqlite3.Connection | None) -> None:
        """Use `open`, which makes the parts."""
        super().__init__(engine, place)
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

    @property
    def library(self) -> LibraryTable:
        """What is written of whole runs."""
        return LibraryTable(self._writer, self._last_seq)

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


_LAST_SEQ = select(func.coalesce(func.max(events.c.seq), 0)).where(events.c.run == bindparam("run_id"))
_INSERT = insert(events)


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
