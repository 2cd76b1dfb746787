"""The log itself: runs and their events, through SQLAlchemy Core."""

import asyncio
import logging
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, bindparam, create_engine, func, insert, select, update

from server.runlog import sqlite
from server.runlog.damage import finish, is_damaged, mend, note_losses
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.library import LibraryTable
from server.runlog.migrations import upgrade
from server.runlog.pairings import PairingTable
from server.runlog.rows import event_sum, row_of
from server.runlog.stored import StoredRuns
from server.runlog.sums import sum_of
from server.runlog.tables import events, runs, versions
from server.runlog.writer import Writer
from server.timeline.events import Event, rfc3339

_log = logging.getLogger(__name__)


class RunLog(StoredRuns):
    """One log, open. Reads may come from any thread; writes go through one thread and share commits."""

    def __init__(self, engine: Engine, place: str, lock: sqlite3.Connection) -> None:
        """Use `open`, which makes the parts."""
        super().__init__(engine, place)
        self._lock = lock
        self._last_seq: dict[str, int] = {}
        before = sqlite.Place(Path(place) / sqlite.FILE).check
        self._writer = Writer(engine, place, self._last_seq.clear, sqlite.checkpoint, before)

    @classmethod
    def open(cls, where: str | Path) -> "RunLog":
        """Open the log of a folder, made if need be, and upgrade it to this version.

        A log that is damaged is set aside, and what can be saved of it goes on; that is told on the program's own log.
        Raises RunLogFault where it cannot be written, is another process's, is not a log, or is a newer program's.
        """
        lock = sqlite.keep_folder(Path(where))
        try:
            for line in _mended(Path(where) / sqlite.FILE):
                _log.error("%s", line)
            sqlite.make_private(Path(where) / sqlite.FILE)
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
        self._lock.close()

    def create_run(self, run_id: str, plan_text: str, plan_name: str, created: datetime) -> None:
        """Write down a new run, and wait until it is on disk. Raises RunLogFault, also where the id is taken."""
        row: dict[str, Any] = {
            "id": run_id,
            "plan_name": plan_name,
            "plan_text": plan_text,
            "created": rfc3339(created),
        }
        row["sum"] = sum_of(*row.values())
        if any(stored.run_id == run_id for stored in self.runs()):
            raise RunLogFault(f"The log in {self._place} has a run {run_id} already: name the new one otherwise.")
        self._writer.ask(lambda connection: connection.execute(insert(runs).values(row)).rowcount).result()

    def restore_plan(self, run_id: str, plan_text: str, plan_name: str) -> None:
        """Give a run whose plan damage took its plan again, and wait until that is on disk. Raises RunLogFault."""
        (created,) = (stored.created for stored in self.runs() if stored.run_id == run_id)
        row = {"plan_name": plan_name, "plan_text": plan_text}
        summed = row | {"sum": sum_of(run_id, plan_name, plan_text, rfc3339(created))}
        setting = update(runs).where(runs.c.id == run_id).values(summed)
        self._writer.ask(lambda connection: connection.execute(setting).rowcount).result()

    def note_damage(self, run_id: str, now: datetime) -> None:
        """Write a note into a run of what its log has lost, unless it has one of that, and wait until it is on disk.

        Raises RunLogFault.
        """
        told = {number for one in self.noted_losses(run_id) for number in range(one.first, one.last + 1)}
        new = [one for one in self.lost(run_id) if one.first not in told]
        if new:
            said = self._writer.ask(lambda connection: len(note_losses(connection, run_id, new, None, now)))
            said.result()

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]:
        """Begin to write an event of a run; call it in the running loop.

        The result is the event's number in its run, once it is on disk. Numbers are given, and results come, in the
        order of the calls. Where it cannot be written the result is a RunLogFault, and the log can still be used.
        """
        row = row_of(run_id, event, arrived)
        return asyncio.wrap_future(self._writer.ask(lambda connection: self._insert(connection, row)))

    def tried(self) -> asyncio.Future[int]:
        """Write what is there already, as an event is written, in the running loop.

        The result is a RunLogFault where an event could not be written now.
        """
        again = update(versions).values(version=versions.c.version)
        return asyncio.wrap_future(self._writer.ask(lambda connection: connection.execute(again).rowcount))

    def _insert(self, connection: Connection, row: dict[str, Any]) -> int:
        """In the writer's thread, which alone knows the last numbers and forgets them when a commit came to nothing."""
        run_id = row["run"]
        if run_id not in self._last_seq:
            self._last_seq[run_id] = connection.execute(_LAST_SEQ, {"run_id": run_id}).scalar_one()
        seq = self._last_seq[run_id] + 1
        numbered = row | {"seq": seq}
        connection.execute(_INSERT, numbered | {"sum": event_sum(numbered)})
        self._last_seq[run_id] = seq
        return seq


_LAST_SEQ = select(func.coalesce(func.max(events.c.seq), 0)).where(events.c.run == bindparam("run_id"))
_INSERT = insert(events)


def _upgraded_engine(url: str, place: str) -> Engine:
    with told_plainly(place):
        engine = create_engine(url)
        try:
            sqlite.prepare(engine)
            with engine.begin() as connection:
                upgrade(connection)
        except BaseException:
            engine.dispose()
            raise
        return engine


def _mended(file: Path) -> list[str]:
    """Put right what is damaged of a log's file; what is to be told of that."""
    finish(file)
    return mend(file) if file.exists() and is_damaged(file) else []
