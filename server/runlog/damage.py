"""Finding that a log is damaged, setting it aside and going on with what can be saved of it."""

import os
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, create_engine, func, insert, select

from server.clock import Clock
from server.runlog import tables
from server.runlog.faults import ELSEWHERE, RunLogFault, told_plainly
from server.runlog.migrations import MIGRATIONS, upgrade
from server.runlog.pages import ahead_of
from server.runlog.rows import Lost, event_sum, lost_in_words, missing_of, row_of, were_in_words
from server.runlog.salvage import Salvage, salvage
from server.runlog.sqlite import AHEAD, free_name, make_private, read_any_text, set_aside
from server.runlog.sums import sum_of
from server.timeline.events import Event, rfc3339, time_from_rfc3339

_MENDED = ".mended"
"""Added to the name that the damaged log is to have, so that it has that one also where it is moved in two goes."""

_FESTOON_TABLES = {"runs", "events", "festoon_log"}


def is_damaged(file: Path) -> bool:
    """Whether what is there of a log is not what was written. Reads only; raises RunLogFault where it cannot."""
    with told_plainly(str(file.parent)):
        if ahead_of(_bytes_of(_ahead_file(file))).damaged:
            return True
        try:
            with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=3.0)) as log:
                read_any_text(log)
                # All that is asked is of one instant, whatever another program commits meanwhile.
                log.execute("BEGIN")
                if log.execute("PRAGMA quick_check(1)").fetchall() != [("ok",)]:
                    return True
                ours = _tables_of(log) & _FESTOON_TABLES
                return bool(ours) and (ours != _FESTOON_TABLES or _has_gaps(log) or _has_changed(log))
        except UnicodeDecodeError:  # a message of SQLite that quotes what is damaged
            return True
        except sqlite3.DatabaseError as error:
            # A table of ours that cannot be asked has its description damaged (SQLITE_ERROR).
            if error.sqlite_errorcode & 0xFF in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR}:
                return True
            raise


def _tables_of(log: sqlite3.Connection) -> set[str]:
    return {row[0] for row in log.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def _has_gaps(log: sqlite3.Connection) -> bool:
    """Whether the table and the index over it differ, or numbers are missing that are not known to be lost."""
    (rows,) = log.execute("SELECT count(*) FROM events NOT INDEXED").fetchone()
    runs = log.execute("SELECT run, count(*), min(seq), max(seq) FROM events GROUP BY run").fetchall()
    if rows != sum(each[1] for each in runs):
        return True
    known = dict[str, int]()
    if "losses" in _tables_of(log):
        known = dict(log.execute("SELECT run, sum(last - first + 1) FROM losses GROUP BY run").fetchall())
    return any(there + known.get(run, 0) < last for run, there, _, last in runs)


def _has_changed(log: sqlite3.Connection) -> bool:
    """Whether a row of a run or an event is not as it was written; one without a checksum is not asked."""
    for asked in ("SELECT * FROM runs", "SELECT * FROM events"):
        rows = log.execute(asked)
        columns = [column[0] for column in rows.description]
        if "sum" in columns:
            own = columns.index("sum")
            if any(row[own] not in {None, sum_of(*row[:own])} for row in rows):
                return True
    return False


def mend(file: Path, now: datetime | None = None) -> list[str]:
    """Put a mended log in the place of a damaged one, which is kept beside it; what is to be told of that.

    Whatever stops it half way, the next call goes on from there. Raises RunLogFault where nothing of a log is found.
    """
    with told_plainly(str(file.parent)):
        aside = free_name(file, "damaged")
        mended = file.with_name(f"{aside.name}{_MENDED}")
        part = file.with_name(f"{mended.name}.part")
        told = rebuild(file, part, aside.name, now or Clock().now())
        part.rename(mended)
    finish(file)
    return told


def finish(file: Path) -> None:
    """Complete what `mend` had begun when it was stopped, if anything."""
    with told_plainly(str(file.parent)):
        for mended in sorted(file.parent.glob(f"{file.stem}.damaged-*{_MENDED}")):
            aside = file.with_name(mended.name.removesuffix(_MENDED))
            # What somebody has put there since is no part of what was damaged.
            set_aside(file, free_name(file, "damaged") if aside.exists() else aside)
            mended.rename(file)
            _sync_folder(file.parent)


def rebuild(file: Path, target: Path, kept: str | None, now: datetime) -> list[str]:
    """Make a sound log of what a damaged one still holds; what is to be told of it, by run. Raises RunLogFault."""
    ahead = ahead_of(_bytes_of(_ahead_file(file)))
    saved = salvage(_bytes_of(file), ahead)
    if not saved.runs and not saved.events:
        raise RunLogFault(
            f"The log in {file.parent} is not a Festoon log, or is damaged (nothing in it can be read):"
            f" put it aside, or {ELSEWHERE}."
        )
    target.unlink(missing_ok=True)
    make_private(target)
    engine = create_engine(f"sqlite:///{target}")
    try:
        with engine.begin() as connection:
            upgrade(connection, MIGRATIONS)
            told = _write(connection, saved, kept, now)
    finally:
        engine.dispose()
    _sync(target)
    return told


def _write(connection: Connection, saved: Salvage, kept: str | None, now: datetime) -> list[str]:
    lacking = [_without_plan(run, saved) for run in saved.planless]
    for table, rows in (
        (tables.runs, [*saved.runs, *lacking]),
        (tables.events, saved.events),
        (tables.pairings, saved.pairings),
        (tables.archived, saved.archived),
        (tables.summaries, saved.summaries),
        (tables.losses, saved.losses),
    ):
        if rows:
            connection.execute(insert(table), rows)
    said = f" The damaged file is kept as {kept}." if kept else ""
    told = [
        f"The log was damaged: {len(saved.events)} events of {len(saved.runs) + len(lacking)} runs were saved.{said}"
    ]
    for run in sorted({row["id"] for row in [*saved.runs, *lacking]}):
        new = new_losses(connection, run, saved.numbers.get(run, 0))
        if new:
            told.append(note_losses(connection, run, new, kept, now))
    told += [
        f"{run}: its plan was lost; start the server with the plan again, and the run goes on."
        for run in saved.planless
    ]
    return told


def _without_plan(run: str, saved: Salvage) -> dict[str, str | int]:
    created = min(row["arrived"] for row in saved.events if row["run"] == run)
    row = {"id": run, "plan_name": "", "plan_text": "", "created": created}
    return row | {"sum": sum_of(*row.values())}


def new_losses(connection: Connection, run: str, there_were: int = 0) -> list[Lost]:
    """The numbers of a run that are missing and not written down as lost."""
    events, losses = tables.events, tables.losses
    numbers = {row.seq for row in connection.execute(select(events.c.seq).where(events.c.run == run))}
    for row in connection.execute(select(losses.c.first, losses.c.last).where(losses.c.run == run)):
        numbers.update(range(row.first, row.last + 1))
    return list(missing_of(numbers, there_were))


def note_losses(connection: Connection, run: str, lost: list[Lost], kept: str | None, now: datetime) -> str:
    """Write down what a run has lost, and a note of it among its events; the sentence."""
    rows = [{"run": run, "first": o.first, "last": o.last, "found": rfc3339(now), "kept": kept} for o in lost]
    connection.execute(insert(tables.losses), rows)
    said = f"; the damaged file is kept as {kept}" if kept else ""
    words = f"The log was damaged: {lost_in_words(lost)} of this run {were_in_words(lost)} lost{said}."
    at = _last_arrival(connection, run)
    seq = max(_last_number(connection, run), *(one.last for one in lost)) + 1
    note = Event(id=f"damage {seq} {rfc3339(now)}", t=at, kind="note", source="contact:log", text=words)
    row = row_of(run, note, at) | {"seq": seq}
    connection.execute(insert(tables.events), row | {"sum": event_sum(row)})
    return f"{run}: {words}"


def _last_arrival(connection: Connection, run: str) -> datetime:
    """The run's own time as of its log: a run that is played has nothing to do with the wall's."""
    events, runs = tables.events, tables.runs
    asked = select(events).where(events.c.run == run).order_by(events.c.seq.desc())
    with closing(connection.execute(asked)) as rows:
        # Of a row that changed the time is anything.
        found = next((row.arrived for row in rows if row.sum in {None, event_sum(row._asdict())}), None)
    created = select(runs.c.created).where(runs.c.id == run)
    return time_from_rfc3339(found or connection.execute(created).scalar_one())


def _last_number(connection: Connection, run: str) -> int:
    events = tables.events
    return int(
        connection.execute(select(func.coalesce(func.max(events.c.seq), 0)).where(events.c.run == run)).scalar_one()
    )


def _ahead_file(file: Path) -> Path:
    return file.with_name(f"{file.name}{AHEAD}")


def _bytes_of(file: Path) -> bytes:
    return file.read_bytes() if file.exists() else b""


def _sync(file: Path) -> None:
    with file.open("rb") as opened:
        os.fsync(opened.fileno())


def _sync_folder(folder: Path) -> None:
    if os.name == "posix":
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
