"""A log copied into one file, also while it is being written, and put back from it.

SQLite's own backup copies what was committed when it began (SQLite, "Using the SQLite Online Backup API"); writers go
on meanwhile.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import NamedTuple

from server.access.keys import KEY_FILE
from server.runlog import sqlite
from server.runlog.damage import finish
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.migrations import MIGRATIONS


class Copied(NamedTuple):
    """What a copy holds; `aside` is where a log that stood in the way was put."""

    runs: int
    events: int
    aside: Path | None = None


def backup_to_file(where: str, file: Path) -> Copied:
    """Copy the log of a folder into a new file, whoever has it open, and check the copy. Raises RunLogFault."""
    source = _log_of(where)
    if not source.is_file():
        raise RunLogFault(f"There is no log in {where}: give the folder of one (FESTOON_DATA).")
    if file.exists():
        raise RunLogFault(f"{file} is there already: give another name, nothing is overwritten.")
    with _unfinished(file) as part:
        with told_plainly(where), closing(_reading(source)) as log:
            _copy(log, part)
        with told_plainly(str(file)):
            copied = checked(part, str(file))
            part.rename(file)
    return copied


def restore_from_file(file: Path, where: str, *, replace: bool) -> Copied:
    """Make a backup the log of a folder, made if need be.

    With `replace` a log that is there is put aside under another name, never deleted. The key of the sessions goes, so
    that every device is to be paired anew. Raises RunLogFault where another program has the folder, a log is in the
    way, or the file is no backup that this program can read.
    """
    target = _log_of(where)
    if not file.is_file():
        raise RunLogFault(f"There is no file {file}: give the backup to restore.")
    copied = checked(file, str(file))
    with closing(sqlite.keep_folder(Path(where))):
        finish(target)
        if target.exists() and not replace:
            raise RunLogFault(f"There is a log in {where} already: give another folder, or --replace, to put it aside.")
        with _unfinished(target) as part, told_plainly(where):
            with closing(_reading(file)) as log:
                _copy(log, part)
            # A device that was withdrawn since is not withdrawn in the backup; without the key neither has a session.
            target.with_name(KEY_FILE).unlink(missing_ok=True)
            aside = sqlite.set_aside(target, sqlite.free_name(target, "replaced"))
            part.rename(target)
    return copied._replace(aside=aside)


def _log_of(where: str) -> Path:
    return Path(where) / sqlite.FILE


def _reading(file: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=sqlite.PATIENCE_MS / 1000)


@contextmanager
def _unfinished(file: Path) -> Iterator[Path]:
    """A name beside `file` for what is not that yet; whatever is left under it goes."""
    part = file.with_name(f"{file.name}.part")
    try:
        yield part
    finally:
        for left in (part, part.with_name(f"{part.name}-journal"), part.with_name(f"{part.name}-wal")):
            left.unlink(missing_ok=True)


def _copy(log: sqlite3.Connection, file: Path) -> None:
    """All at once, so that it is the log as of one instant; on disk when it returns."""
    file.unlink(missing_ok=True)
    sqlite.make_private(file)
    with closing(sqlite3.connect(file)) as copy:
        log.backup(copy)
        # One file, not a file and what was written ahead of it.
        copy.execute("PRAGMA journal_mode = DELETE")


def checked(file: Path, name: str) -> Copied:
    """Go through a whole backup and say what it holds. Raises RunLogFault, in which it is called `name`."""
    with told_plainly(name), closing(_reading(file)) as log:
        if [row[0] for row in log.execute("PRAGMA integrity_check")] != ["ok"]:
            raise RunLogFault(f"{name} is damaged: use another backup.")
        tables = {row[0] for row in log.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not {"runs", "events", "festoon_log"} <= tables:
            raise RunLogFault(f"{name} is not a backup of a Festoon log.")
        (version,) = log.execute("SELECT version FROM festoon_log").fetchone()
        if version > len(MIGRATIONS):
            raise RunLogFault(f"{name} was written by a newer Festoon (version {version}): install that Festoon.")
        (runs,) = log.execute("SELECT count(*) FROM runs").fetchone()
        (events,) = log.execute("SELECT count(*) FROM events").fetchone()
    return Copied(runs, events)
