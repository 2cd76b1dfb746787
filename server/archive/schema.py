"""The archive's tables, made and taken to this version by Alembic; needs the extra `archive`."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, text

from server.archive.faults import ArchiveFault
from server.archive.tables import SCHEMA, VERSION

LOCK = 7_306_021
"""Two first upgrades at once go one after the other (PostgreSQL, advisory locks). Chosen."""

WAIT = "60s"
"""For whatever holds a table of the archive's. Chosen."""

MONTHS_AHEAD = 18
"""Opened for events, so that a site seldom has to. Chosen: an archive is upgraded more often than that."""


def upgrade(engine: Engine) -> str:
    """Take a database to this version, all of it or nothing; which version it was of, empty for none.

    Opens the month before, this one and those that come for events. Raises ArchiveFault where it is a newer program's.
    """
    with engine.begin() as connection:
        _take_turn(connection)
        before = version_of(connection)
        if before.isdigit() and int(before) > int(VERSION):
            raise ArchiveFault(
                f"The archive is of version {before}; this Festoon knows {VERSION}: install a newer one."
            )
        config = Config()
        config.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        connection.execute(text(_OPEN), {"ahead": MONTHS_AHEAD})
        return before


def _take_turn(connection: Connection) -> None:
    """Wait for another upgrade; nobody but the owner has any right on the table that says whose turn it is."""
    connection.execute(text(f"SET LOCAL lock_timeout = '{WAIT}'"))
    if not connection.execute(text(f"SELECT to_regclass('{SCHEMA}.turn') IS NOT NULL")).scalar_one():
        # Anybody could hold this, but before the first upgrade there is no site and no reader.
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
        connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
        connection.execute(text(f"CREATE TABLE IF NOT EXISTS {SCHEMA}.turn ()"))
    connection.execute(text(f"LOCK TABLE {SCHEMA}.turn"))


def version_of(connection: Connection) -> str:
    """The version of a database; empty for one without tables of ours."""
    there = text("SELECT to_regclass('festoon.alembic_version') IS NOT NULL")
    if not connection.execute(there).scalar_one():
        return ""
    return str(connection.execute(text("SELECT version_num FROM festoon.alembic_version")).scalar_one_or_none() or "")


_OPEN = """
SELECT festoon.make_month((date_trunc('month', now()) + ahead * interval '1 month')::date)
FROM generate_series(-1, CAST(:ahead AS integer)) ahead
"""
