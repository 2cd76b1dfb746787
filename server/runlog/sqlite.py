"""What is particular to SQLite: how it is opened, how a folder is kept for one program, and when it tidies up."""

import os
import sqlite3
import stat
from contextlib import closing, suppress
from itertools import count
from pathlib import Path

from sqlalchemy import Connection, Engine, event

from server.runlog.faults import ELSEWHERE, RunLogFault, told_plainly

FILE = "festoon.db"
LOCK = "festoon.lock"
AHEAD = "-wal"

BACKSTOP_PAGES = 4000
"""A log that never pauses is tidied up by SQLite itself at this size (16 MB). Chosen."""

PATIENCE_MS = 3000
"""How long another program may keep the file locked. Chosen."""


def prepare(engine: Engine) -> None:
    """Have every connection write ahead and sync every commit, and begin transactions where SQLAlchemy does.

    With synchronous FULL a commit that has returned survives a power cut (SQLite, "PRAGMA synchronous").
    """

    @event.listens_for(engine, "connect")
    def _connect(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        read_any_text(connection)
        connection.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(f"PRAGMA wal_autocheckpoint = {BACKSTOP_PAGES}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN")


def read_any_text(connection: sqlite3.Connection) -> None:
    """Have text that damage made no UTF-8 read all the same: a checksum tells it, and the other rows are there."""
    connection.text_factory = lambda data: data.decode("utf-8", "surrogateescape")


def checkpoint(connection: Connection) -> None:
    """Move what was written ahead into the database proper; what cannot be moved now is left for the next time."""
    # Past SQLAlchemy, which would begin a transaction, where SQLite does no checkpoint.
    with suppress(sqlite3.Error), closing(connection.connection.cursor()) as cursor:
        cursor.execute("PRAGMA wal_checkpoint(PASSIVE)")
        cursor.fetchall()


def free_name(log: Path, word: str) -> Path:
    """What a log can be called that is set aside: no part of another one has that name."""
    names = (log.with_name(f"{log.stem}.{word}-{number}{log.suffix}") for number in count(1))
    return next(name for name in names if not any(part.exists() for part in _parts(name)))


def set_aside(log: Path, name: Path) -> Path | None:
    """Rename what there is of a log, and give what the last of it is called now; None where there is nothing.

    Whatever stops it half way, another call goes on from there.
    """
    # Without its log too: what was written ahead would be played into whatever log comes there.
    there = [(part, new) for part, new in zip(_parts(log), _parts(name), strict=True) if part.exists()]
    for part, new in there:
        part.rename(new)
    return there[-1][1] if there else None


def _parts(log: Path) -> list[Path]:
    """Where SQLite keeps a log: what it has beside the database while it writes, and the database."""
    return [log.with_name(f"{log.name}{ending}") for ending in (AHEAD, "-shm", "-journal", "")]


class Place:
    """Where a log's file is: it may be moved or deleted while it is open; what is written then, nobody finds."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._own = self._now()

    def check(self) -> None:
        """Raise RunLogFault where the file is no longer in its place."""
        if self._own is not None and self._now() != self._own:
            raise RunLogFault(
                f"The log is no longer in {self._file.parent}: it was moved, deleted or covered."
                " Put that same file back there; a copy of it is used once the server is started again."
            )

    def _now(self) -> tuple[int, int] | None:
        try:
            found = self._file.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino


def keep_folder(folder: Path) -> sqlite3.Connection:
    """Keep a folder for this process until the result is closed, however the process ends.

    A second, empty database is held in an exclusive transaction, which works on every system that SQLite does. It
    leaves the log itself open to programs that only read. Raises RunLogFault where another process has the folder.
    """
    with told_plainly(str(folder)):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = sqlite3.connect(folder / LOCK, timeout=0.0, isolation_level=None, check_same_thread=False)
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            lock.close()
            if error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY:
                raise RunLogFault(f"Another Festoon is using {folder}: stop it, or {ELSEWHERE}.") from error
            raise
        return lock


def make_private(file: Path) -> None:
    """Have a database's file be there, and this user's alone; what SQLite puts beside it has its mode.

    Raises RunLogFault.
    """
    with told_plainly(str(file.parent)):
        os.close(os.open(file, os.O_RDWR | os.O_CREAT, 0o600))
        if os.name == "posix" and stat.S_IMODE(file.stat().st_mode) & 0o077:
            # Of another user's file that is his to say, and `festoon doctor` tells it.
            with suppress(PermissionError):
                file.chmod(0o600)
