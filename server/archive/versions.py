"""Whether an archive is of the version that this program knows; needs none of what makes its tables."""

from sqlalchemy import Connection, text

from server.archive.faults import ArchiveFault
from server.archive.tables import VERSION


def check_version(connection: Connection) -> None:
    """Raise ArchiveFault for an archive of another version, and whatever the database raises without its tables."""
    found = connection.execute(text("SELECT version_num FROM festoon.alembic_version")).scalar_one_or_none()
    if found != VERSION:
        raise ArchiveFault(
            f"The archive is of version {found} and this Festoon knows {VERSION}:"
            " run `festoon archive upgrade`, or install the Festoon of that version."
        )
