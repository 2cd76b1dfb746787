"""The steps from an empty database to the tables of today, numbered from 1 and never changed once released."""

from collections.abc import Callable

from sqlalchemy import (
    Column,
    Connection,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    bindparam,
    insert,
    inspect,
    select,
    update,
)

from server.runlog.faults import ELSEWHERE, RunLogFault
from server.runlog.sums import sum_if_sound
from server.runlog.tables import versions

Migration = Callable[[Connection], None]


def _first_tables(connection: Connection) -> None:
    """Version 1: runs, their events, and the number of this version."""
    old = MetaData()
    Table(
        "runs",
        old,
        Column("id", String(200), primary_key=True),
        Column("plan_name", String(200), nullable=False),
        Column("plan_text", Text, nullable=False),
        Column("created", String(40), nullable=False),
    )
    Table(
        "events",
        old,
        Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
        Column("seq", Integer, primary_key=True, autoincrement=False),
        Column("id", String(200), nullable=False),
        Column("arrived", String(40), nullable=False),
        Column("body", Text, nullable=False),
        UniqueConstraint("run", "id", name="events_once"),
    )
    number = Table("festoon_log", old, Column("version", Integer, nullable=False))
    old.create_all(connection)
    connection.execute(insert(number).values(version=1))


def _pairings(connection: Connection) -> None:
    """Version 2: the devices that were paired."""
    old = MetaData()
    Table(
        "pairings",
        old,
        Column("id", String(40), primary_key=True),
        Column("name", String(200), nullable=False),
        Column("role", String(20), nullable=False),
        Column("secret_hash", String(64), nullable=False),
        Column("key_id", String(16), nullable=False),
        Column("created", String(40), nullable=False),
        Column("until", String(40), nullable=False),
        Column("withdrawn", String(40)),
    )
    old.create_all(connection)


def _library(connection: Connection) -> None:
    """Version 3: runs that were put away, and what was counted of runs."""
    new = MetaData()
    Table("runs", new, Column("id", String(200), primary_key=True))
    Table(
        "archived",
        new,
        Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
        Column("at", String(40), nullable=False),
        Column("by", String(200), nullable=True),
    )
    Table(
        "summaries",
        new,
        Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
        Column("events", Integer, nullable=False),
        Column("made_by", String(40), nullable=False),
        Column("body", Text, nullable=False),
    )
    new.create_all(connection)


def _sums(connection: Connection) -> None:
    """Version 4: a checksum of every run and every event, and what damage took."""
    columns = {"runs": ("id", "plan_name", "plan_text", "created"), "events": ("run", "seq", "id", "arrived", "body")}
    for name, summed in columns.items():
        connection.exec_driver_sql(f"ALTER TABLE {name} ADD COLUMN sum BIGINT")
        keys = summed[: 1 if name == "runs" else 2]
        table = Table(name, MetaData(), *(Column(column) for column in (*summed, "sum")))
        filled = [
            {f"of_{key}": value for key, value in zip(keys, row, strict=False)} | {"its_sum": sum_if_sound(*row)}
            for row in connection.execute(select(*(table.c[column] for column in summed)))
        ]
        setting = update(table).values(sum=bindparam("its_sum"))
        for key in keys:
            setting = setting.where(table.c[key] == bindparam(f"of_{key}"))
        if filled:
            connection.execute(setting, filled)
    new = MetaData()
    Table("runs", new, Column("id", String(200), primary_key=True))
    Table(
        "losses",
        new,
        Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
        Column("first", Integer, primary_key=True, autoincrement=False),
        Column("last", Integer, nullable=False),
        Column("found", String(40), nullable=False),
        Column("kept", String(200)),
    )
    new.create_all(connection)


MIGRATIONS: tuple[Migration, ...] = (_first_tables, _pairings, _library, _sums)


def version_of(connection: Connection) -> int:
    """The version of a database; 0 for one without tables. Raises RunLogFault for one with other tables only."""
    names = inspect(connection).get_table_names()
    if versions.name in names:
        return int(connection.execute(select(versions.c.version)).scalar_one())
    if names:
        raise RunLogFault(f"The database holds something other than a Festoon log: {ELSEWHERE}.")
    return 0


def upgrade(connection: Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> None:
    """Take a database to the last version, inside the caller's transaction: all steps are done, or none.

    Raises RunLogFault for a database that a newer program has upgraded.
    """
    found = version_of(connection)
    if found > len(migrations):
        raise RunLogFault(
            f"The log was written by a newer Festoon (version {found}; this one reads up to {len(migrations)}):"
            f" install that Festoon, or {ELSEWHERE}."
        )
    for migration in migrations[found:]:
        migration(connection)
    connection.execute(update(versions).values(version=len(migrations)))
