"""What can be wrong with the log, in words for the person in front of it."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import OperationalError, SQLAlchemyError

from server.timeline.events import EventFault

ELSEWHERE = "give this one another folder (FESTOON_DATA)"


class RunLogFault(Exception):
    """The log cannot be used: one sentence that says what is wrong and what to do."""


class NotTaken(RunLogFault, EventFault):
    """The log is well, and does not take what was to be written: it would not at any other time either."""


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """Turn whatever the database raises about the log at `place`, or a time in it that is none, into a RunLogFault."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError, EventFault) as error:
        raise fault_from_error(error, place) from error


def is_of_the_database(error: BaseException) -> bool:
    """Whether it is the database or its disk that failed, and so would fail whatever is written."""
    return isinstance(error, RunLogFault | OSError | OperationalError | sqlite3.OperationalError) or (
        _code_of(error) in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
    )


def is_passing(error: BaseException) -> bool:
    """Whether the same connection goes on once there is room, the lock is gone, or the file is back in its place."""
    return isinstance(error, RunLogFault) or _code_of(error) in _PASSING


def _code_of(error: BaseException) -> int | None:
    """The kind of an error of SQLite: the low byte, the rest is its detail (SQLite, "Result and Error Codes")."""
    code = getattr(getattr(error, "orig", None) or error, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF


def fault_from_error(error: BaseException, place: str) -> RunLogFault:
    """The sentence for an error of the database or the operating system about the log at `place`."""
    if isinstance(error, RunLogFault):
        return error
    cause = getattr(error, "orig", None) or error
    code = _code_of(error)
    by_system = _BY_ERRNO.get(getattr(cause, "errno", None) or 0)
    if by_system is not None:
        return RunLogFault(by_system.format(place=place))
    if isinstance(cause, EventFault):
        return RunLogFault(_CHANGED.format(place=place, cause=cause))
    if code is None:
        return RunLogFault(f"The log in {place} cannot be used ({cause}): check that it is there and may be written.")
    return RunLogFault(_SENTENCES.get(code, _OTHER).format(place=place, cause=cause))


_UNWRITABLE = f"The log in {{place}} cannot be written: let this user write there, or {ELSEWHERE}."
_DAMAGED = f"The log in {{place}} is not a Festoon log, or is damaged ({{cause}}): put it aside, or {ELSEWHERE}."
_CHANGED = "The log in {place} is damaged ({cause}): start the server again, or restore a backup if that does not help."
_LOCKED = "The log in {place} is locked by another program: close that program and try again."
_OTHER = "The log in {place} failed ({cause}): check the disk, then start again; what was acknowledged is kept."
_FULL = "The disk that holds {place} is full: free some space and send it again."
_BY_ERRNO = {
    errno.EACCES: _UNWRITABLE,
    errno.EPERM: _UNWRITABLE,
    errno.EROFS: _UNWRITABLE,
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
}
_PASSING = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_SENTENCES = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _UNWRITABLE,
    sqlite3.SQLITE_CANTOPEN: _UNWRITABLE,
    sqlite3.SQLITE_PERM: _UNWRITABLE,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
}
