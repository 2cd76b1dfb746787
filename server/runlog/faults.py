"""What can be wrong with the log, in words for the person in front of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import SQLAlchemyError

ELSEWHERE = "give this one another folder (FESTOON_DATA)"


class RunLogFault(Exception):
    """The log cannot be used: one sentence that says what is wrong and what to do."""


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """Turn whatever the database raises about the log at `place` into a RunLogFault."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError) as error:
        raise fault_from_error(error, place) from error


def fault_from_error(error: BaseException, place: str) -> RunLogFault:
    """The sentence for an error of the database or the operating system about the log at `place`."""
    cause = getattr(error, "orig", None) or error
    code = getattr(cause, "sqlite_errorcode", None)
    if code is None:
        return RunLogFault(f"The log in {place} cannot be used ({cause}): check that it is there and may be written.")
    # The low byte is the kind of error, the rest its detail (SQLite, "Result and Error Codes").
    return RunLogFault(_SENTENCES.get(code & 0xFF, _OTHER).format(place=place, cause=cause))


_UNWRITABLE = f"The log in {{place}} cannot be written: let this user write there, or {ELSEWHERE}."
_DAMAGED = f"The log in {{place}} is not a Festoon log, or is damaged ({{cause}}): put it aside, or {ELSEWHERE}."
_LOCKED = "The log in {place} is locked by another program: close that program and try again."
_OTHER = "The log in {place} failed ({cause}): check the disk, then start again; what was acknowledged is kept."
_SENTENCES = {
    sqlite3.SQLITE_FULL: "The disk that holds {place} is full: free some space and send it again.",
    sqlite3.SQLITE_READONLY: _UNWRITABLE,
    sqlite3.SQLITE_CANTOPEN: _UNWRITABLE,
    sqlite3.SQLITE_PERM: _UNWRITABLE,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
}
