"""What a log holds, to be read; also while another process writes to it."""

import sqlite3
import tempfile
import threading
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Engine, Row, create_engine, event, func, select

from server.clock import Clock
from server.runlog import sqlite
from server.runlog.damage import is_damaged, rebuild
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.migrations import MIGRATIONS, version_of
from server.runlog.rows import Lost, event_sum, lost_in_words, missing_of, were_in_words
from server.runlog.tables import archived, events, losses, runs, summaries
from server.timeline.events import Event, EventFault, event_from_json, time_from_rfc3339
from server.timeline.faults import both

LOOKS_S = (0.0, 0.02, 0.2)
"""Between looks at a log that looks damaged while another program may be writing it. Chosen: a commit takes 4 ms."""


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


class Unread(NamedTuple):
    """An event that is left out, and why: damage, or a kind that only a later program knows."""

    seq: int
    why: str
    is_damaged: bool


class Archived(NamedTuple):
    """When a run was put away, and by whom; None where nobody said."""

    at: datetime
    by: str | None


class Extent(NamedTuple):
    """How many events a run has, and the run's time of the last to be taken; None without events."""

    events: int
    last_arrived: datetime | None


class Summary(NamedTuple):
    """What was counted of a run when it had so many `events`; `body` is the counter's own affair."""

    events: int
    made_by: str
    body: str


class StoredRuns:
    """The runs of a log. Every method may be called from any thread, and raises RunLogFault."""

    def __init__(self, engine: Engine, place: str) -> None:
        self._engine = engine
        self._place = place
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    @classmethod
    def reading(cls, where: str | Path) -> "StoredRuns":
        """Open the log of a folder only to read it, whoever else has it open.

        Of a damaged one it is what can be saved; the file is left as it is. Raises RunLogFault where there is none, or
        where it is of another version.
        """
        file = Path(where) / sqlite.FILE
        if not file.is_file():
            raise RunLogFault(f"There is no log in {where}: give the folder of one (FESTOON_DATA).")
        if is_damaged_for_good(file):
            return cls._saved(file, str(where))
        return cls._checked(_reading_engine(file), str(where))

    @classmethod
    def _saved(cls, file: Path, place: str) -> "StoredRuns":
        """What can be saved of a damaged log, which is left as it is."""
        folder = tempfile.TemporaryDirectory(prefix="festoon-")
        try:
            saved = Path(folder.name) / sqlite.FILE
            with told_plainly(place):
                rebuild(file, saved, None, Clock().now())
            log = cls._checked(_reading_engine(saved), place)
        except BaseException:
            folder.cleanup()
            raise
        log._folder = folder  # noqa: SLF001 - of this very class
        return log

    @classmethod
    def _checked(cls, engine: Engine, place: str) -> "StoredRuns":
        try:
            with told_plainly(place), engine.connect() as connection:
                version = version_of(connection)
        except BaseException:
            engine.dispose()
            raise
        if version != len(MIGRATIONS):
            engine.dispose()
            raise RunLogFault(
                f"The log in {place} is of version {version} and this Festoon reads {len(MIGRATIONS)}."
                " Start its server once: it takes an older log to its own version."
            )
        return cls(engine, place)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()
        if self._folder is not None:
            self._folder.cleanup()

    def runs(self) -> list[StoredRun]:
        """Every run, the oldest first."""
        with told_plainly(self._place), self._engine.connect() as connection:
            return [_run(row) for row in connection.execute(select(runs).order_by(runs.c.created, runs.c.id))]

    def run(self, run_id: str) -> StoredRun | None:
        """One run; None where the log has none of that id."""
        with told_plainly(self._place), self._engine.connect() as connection:
            row = connection.execute(select(runs).where(runs.c.id == run_id)).one_or_none()
            return None if row is None else _run(row)

    def events(self, run_id: str) -> list[StoredEvent]:
        """The events of a run that can be read, in the order they were taken in; none for a run that is not there.

        What cannot be read is left out: `lacking` says what that is.
        """
        read = map(_event, self._rows(run_id))
        return [one for one in read if isinstance(one, StoredEvent)]

    def lost(self, run_id: str) -> list[Lost]:
        """The events of a run that damage took: those that were written down as lost, and what is found so now."""
        return self._lost_of(run_id, self._rows(run_id))

    def lacking(self, run_id: str) -> list[str]:
        """What a run that is read from this log lacks, in sentences; none for one that is whole."""
        rows = self._rows(run_id)
        lost = self._lost_of(run_id, rows)
        kept = sorted({one.kept for one in lost if one.kept})
        said = f"; the damaged file is kept as {both(kept)}" if kept else ""
        told = [f"The log was damaged: {lost_in_words(lost)} {were_in_words(lost)} lost{said}."] if lost else []
        return told + [
            f"Event {one.seq} is left out: this Festoon cannot read it ({one.why}); start the Festoon that wrote it."
            for one in map(_event, rows)
            if isinstance(one, Unread) and not one.is_damaged
        ]

    def noted_losses(self, run_id: str) -> list[Lost]:
        """The events of a run that were written down as lost, by a note among its events too."""
        asked = select(losses).where(losses.c.run == run_id).order_by(losses.c.first)
        with told_plainly(self._place), self._engine.connect() as connection:
            return [Lost(row.first, row.last, row.kept) for row in connection.execute(asked)]

    def _lost_of(self, run_id: str, rows: Sequence[Row[Any]]) -> list[Lost]:
        noted = self.noted_losses(run_id)
        known = {number for one in noted for number in range(one.first, one.last + 1)}
        there = {row.seq for row in rows if _is_sound(row)}
        last = max((row.seq for row in rows), default=0)
        return sorted([*noted, *missing_of(there | known, last)])

    def _rows(self, run_id: str) -> Sequence[Row[Any]]:
        asked = select(events).where(events.c.run == run_id).order_by(events.c.seq)
        with told_plainly(self._place), self._engine.connect() as connection:
            return connection.execute(asked).all()

    def extents(self) -> dict[str, Extent]:
        """How much each run holds, by its id; those without events are left out."""
        last = select(events.c.run, func.max(events.c.seq).label("seq")).group_by(events.c.run).subquery()
        asked = select(events.c.run, events.c.seq, events.c.arrived).join(
            last, (events.c.run == last.c.run) & (events.c.seq == last.c.seq)
        )
        with told_plainly(self._place), self._engine.connect() as connection:
            return {row.run: Extent(row.seq, time_from_rfc3339(row.arrived)) for row in connection.execute(asked)}

    def extent(self, run_id: str) -> Extent:
        """How much one run holds."""
        asked = select(events.c.seq, events.c.arrived).where(events.c.run == run_id)
        with told_plainly(self._place), self._engine.connect() as connection:
            row = connection.execute(asked.order_by(events.c.seq.desc()).limit(1)).one_or_none()
            return Extent(0, None) if row is None else Extent(row.seq, time_from_rfc3339(row.arrived))

    def archived(self) -> dict[str, Archived]:
        """The runs that were put away, by id."""
        with told_plainly(self._place), self._engine.connect() as connection:
            rows = connection.execute(select(archived)).all()
            return {row.run: Archived(time_from_rfc3339(row.at), row.by) for row in rows}

    def put_away(self, run_id: str) -> Archived | None:
        """When one run was put away; None where it was not."""
        with told_plainly(self._place), self._engine.connect() as connection:
            row = connection.execute(select(archived).where(archived.c.run == run_id)).one_or_none()
            return None if row is None else Archived(time_from_rfc3339(row.at), row.by)

    def heard(self, run_id: str) -> None:
        """None: a log is its site's own, and nobody has to hear of it."""

    def summaries(self) -> dict[str, Summary]:
        """What was counted of runs, by id; of those that have not been counted there is none."""
        with told_plainly(self._place), self._engine.connect() as connection:
            return {r.run: Summary(r.events, r.made_by, r.body) for r in connection.execute(select(summaries))}

    def summary(self, run_id: str) -> Summary | None:
        """What was counted of one run; None where it has not been counted."""
        asked = select(summaries).where(summaries.c.run == run_id)
        with told_plainly(self._place), self._engine.connect() as connection:
            found = connection.execute(asked).one_or_none()
            return None if found is None else Summary(found.events, found.made_by, found.body)


def _is_sound(row: Row[Any]) -> bool:
    """Whether a row of the table of events is as it was written, as far as its checksum says."""
    return row.sum is None or row.sum == event_sum(row._asdict())


def _event(row: Row[Any]) -> "StoredEvent | Unread":
    if not _is_sound(row):
        return Unread(row.seq, "its checksum is another", is_damaged=True)
    try:
        return StoredEvent(row.seq, event_from_json(row.body), time_from_rfc3339(row.arrived))
    except EventFault as fault:
        return Unread(row.seq, str(fault), is_damaged=False)


def _reading_engine(file: Path) -> Engine:
    engine = create_engine(f"sqlite:///{file.absolute().as_uri()}?mode=ro&uri=true")

    @event.listens_for(engine, "connect")
    def _connect(connection: sqlite3.Connection, _record: object) -> None:
        sqlite.read_any_text(connection)

    return engine


def is_damaged_for_good(file: Path) -> bool:
    """Whether a log is damaged at every look: half of what another program is writing now may look so once.

    Reads only; raises RunLogFault where it cannot.
    """
    for wait_s in LOOKS_S:
        threading.Event().wait(wait_s)
        if not is_damaged(file):
            return False
    return True


def _run(row: Row[Any]) -> StoredRun:
    return StoredRun(row.id, row.plan_name, row.plan_text, time_from_rfc3339(row.created))
