"""What a log holds, to be read; also while another process writes to it."""

from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Engine, Row, create_engine, func, select

from server.runlog import sqlite
from server.runlog.faults import ELSEWHERE, RunLogFault, told_plainly
from server.runlog.migrations import MIGRATIONS, version_of
from server.runlog.tables import archived, events, runs, summaries
from server.timeline.events import Event, EventFault, event_from_json, time_from_rfc3339


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

    @classmethod
    def reading(cls, where: str | Path) -> "StoredRuns":
        """Open the log of a folder, or at a database URL, only to read it, whoever else has it open.

        Raises RunLogFault where there is none, or where it is of another version.
        """
        if "://" in str(where):
            return cls._checked(create_engine(str(where)), "its database")
        file = Path(where) / sqlite.FILE
        if not file.is_file():
            raise RunLogFault(f"There is no log in {where}: give the folder of one (FESTOON_DATA).")
        return cls._checked(create_engine(f"sqlite:///{file.absolute().as_uri()}?mode=ro&uri=true"), str(where))

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
                f"The log in {place} is of version {version} and this Festoon reads {len(MIGRATIONS)}:"
                " start its server once, which takes an older log to its own version."
            )
        return cls(engine, place)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

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
        """The events of a run, in the order in which they were taken; none for a run that is not there.

        Raises RunLogFault also for an event that this program does not know.
        """
        asked = select(events).where(events.c.run == run_id).order_by(events.c.seq)
        with told_plainly(self._place), self._engine.connect() as connection:
            return [self._event(row) for row in connection.execute(asked)]

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

    def summaries(self) -> dict[str, Summary]:
        """What was counted of runs, by id; of those that have not been counted there is none."""
        with told_plainly(self._place), self._engine.connect() as connection:
            return {r.run: Summary(r.events, r.made_by, r.body) for r in connection.execute(select(summaries))}

    def _event(self, row: Row[Any]) -> StoredEvent:
        try:
            return StoredEvent(row.seq, event_from_json(row.body), time_from_rfc3339(row.arrived))
        except EventFault as fault:
            raise RunLogFault(
                f"The log in {self._place} has an event that this Festoon cannot read, number {row.seq} of {row.run}"
                f" ({fault}): start the Festoon that wrote it, or {ELSEWHERE}."
            ) from fault


def _run(row: Row[Any]) -> StoredRun:
    return StoredRun(row.id, row.plan_name, row.plan_text, time_from_rfc3339(row.created))
