"""What can be wrong with the archive, in words for the person in front of it."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError


class ArchiveFault(Exception):
    """The archive cannot be used: one sentence that says what is wrong and what to do."""


@contextmanager
def told_plainly(place: str) -> Iterator[None]:
    """Turn whatever the database raises about the archive at `place` into an ArchiveFault."""
    try:
        yield
    except SQLAlchemyError as error:
        raise fault_from_error(error, place) from error


def fault_from_error(error: Exception, place: str) -> ArchiveFault:
    """The sentence for an error of the database at `place`."""
    found = " ".join(str(getattr(error, "orig", None) or error).split())
    code = sql_state(error)
    for beginning, text in _SENTENCES.items():
        if code.startswith(beginning):
            return ArchiveFault(text.format(place=place, found=found))
    if not code and 'database "' in found and "does not exist" in found:
        return ArchiveFault(_SENTENCES["3D000"].format(place=place, found=found))
    if not code and "password" in found:  # a connection that is refused carries no code
        return ArchiveFault(_NOT_LET_IN.format(place=place, found=found))
    return ArchiveFault(f"The archive at {place} cannot be used ({found}): check its address, and that it runs.")


def sql_state(error: Exception) -> str:
    """The code of an error (PostgreSQL, "Error Codes"); empty where it has none, as of a network that is gone."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    return str(getattr(cause, "sqlstate", None) or "")


_NOT_LET_IN = (
    "The archive at {place} lets nobody in by this name and key ({found})."
    " Have a new key given, by `festoon archive site key` or `festoon archive reader key`."
)
_NO_TABLES = "The archive at {place} has no tables of Festoon: run `festoon archive upgrade` once."
_TOO_LONG = "The archive at {place} took too long to answer ({found}): something holds it up there."
_SENTENCES = {
    "55P03": _TOO_LONG,
    "57014": _TOO_LONG,
    "28": _NOT_LET_IN,
    "3D000": "The archive at {place} has no such database ({found}): make it with PostgreSQL's createdb.",
    "3F000": _NO_TABLES,
    "42P01": _NO_TABLES,
    "42501": "The archive at {place} does not allow that ({found}): ask whoever looks after it.",
}
