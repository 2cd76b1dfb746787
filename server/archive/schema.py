"""The archive's tables, made and taken to this version by Alembic; needs the extra `archive`."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, text

from server.archive.faults import ArchiveFault
from server.archive.tables import SCHEMA, VERSION

LOCK = 7_306_021
"""Two upgrades at once go one after the other (PostgreSQL, advisory locks). Chosen."""


def upgrade(engine: Engine) -> str:
    """Take a database to this version, all of it or nothing; which version it was of, empty for none.

    Opens this month and the next for events. Raises ArchiveFault where it is a newer program's.
    """
    with engine.begin() as connection:
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
        connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
        before = version_of(connection)
        if before.isdigit() and int(before) > int(VERSION):
            raise ArchiveFault(
                f"The archive is of version {before}; this Festoon knows {VERSION}: install a newer one."
            )
        config = Config()
        config.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        for start in ("now()", "now() + interval '1 month'"):
            connection.execute(text(f"SELECT festoon.open_month(({start})::date)"))
        return before


def version_of(connection: Connection) -> str:
    """The version of a database; empty for one without tables of ours."""
    there = text("SELECT to_regclass('festoon.alembic_version') IS NOT NULL")
    if not connection.execute(there).scalar_one():
        return ""
    return str(connection.execute(text("SELECT version_num FROM festoon.alembic_version")).scalar_one_or_none() or "")
