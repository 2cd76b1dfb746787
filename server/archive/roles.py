"""Who may use an archive: sites, which write and read their own runs, and readers. Each is a role of the database."""

import re
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Final, Literal, NamedTuple

from sqlalchemy import Connection, delete, func, insert, select, text, update

from server.archive.faults import ArchiveFault
from server.archive.tables import readable_sites, readers, sites

Kind = Literal["site", "reader"]

NAME: Final = re.compile("[a-z0-9](?:[a-z0-9-]{0,28}[a-z0-9])?")
NAMED: Final = "accepted are up to 30 small letters, digits and hyphens, no hyphen at either end"
RESERVED: Final = "recording-"
"""How the names of dropped recordings begin, which stand where a run's does."""

CONNECTIONS: Final[dict[Kind, int]] = {"site": 4, "reader": 60}
"""At most, of one role: a site's server has one, a reader's at most twenty. Chosen."""

HABITS: Final = ("lock_timeout = '15s'", "statement_timeout = '60s'", "idle_in_transaction_session_timeout = '60s'")
"""What a role begins with, so that a program of its that hangs holds nobody up for long. Chosen."""

ROLE_BYTES: Final = 63
"""What PostgreSQL takes of a name ("Identifiers and Key Words")."""

KEY_BYTES: Final = 24
"""Of chance in a key: more than anybody can try. Chosen."""


class Site(NamedTuple):
    """One site; `waiting` is how many events waited there when it was last `heard` of, None where it never was."""

    name: str
    url: str
    runs: int
    added: datetime
    retired: datetime | None
    heard: datetime | None
    waiting: int | None


class Reader(NamedTuple):
    """One reader; `sites` is None for one of every site."""

    name: str
    sites: Sequence[str] | None
    added: datetime
    retired: datetime | None


class Given(NamedTuple):
    """What whoever signs in is given; the key is shown this once, and kept nowhere."""

    role: str
    key: str


def add_site(connection: Connection, name: str, url: str) -> Given:
    """Make a site. Raises ArchiveFault."""
    given = _made_role(connection, "site", name)
    connection.execute(insert(sites).values(name=name, role=given.role, url=_checked_url(url)))
    return given


def add_reader(connection: Connection, name: str, of: Sequence[str]) -> Given:
    """Make a reader of these sites, or of every one where there are none. Raises ArchiveFault."""
    given = _made_role(connection, "reader", name)
    connection.execute(insert(readers).values(name=name, role=given.role, every_site=not of))
    _let_read(connection, name, of)
    return given


def set_sites(connection: Connection, name: str, of: Sequence[str]) -> None:
    """Give a reader these sites in place of what it had; every one where there are none. Raises ArchiveFault."""
    _role_of(connection, "reader", name)
    connection.execute(update(readers).where(readers.c.name == name).values(every_site=not of))
    connection.execute(delete(readable_sites).where(readable_sites.c.reader == name))
    _let_read(connection, name, of)


def set_url(connection: Connection, name: str, url: str) -> None:
    """Say where a site's server is now. Raises ArchiveFault."""
    _role_of(connection, "site", name)
    connection.execute(update(sites).where(sites.c.name == name).values(url=_checked_url(url)))


def new_key(connection: Connection, kind: Kind, name: str) -> Given:
    """Give a site or reader another key, which also takes back a retirement; the old key is no good any more.

    Raises ArchiveFault.
    """
    role, key = _role_of(connection, kind, name), secrets.token_urlsafe(KEY_BYTES)
    table = sites if kind == "site" else readers
    _alter(connection, "ALTER ROLE %I LOGIN PASSWORD %L", role, key)
    connection.execute(update(table).where(table.c.name == name).values(retired=None))
    return Given(role, key)


def retire(connection: Connection, kind: Kind, name: str) -> None:
    """Let a site or reader in no more, also where it is connected; what it sent stays. Raises ArchiveFault."""
    role, table = _role_of(connection, kind, name), sites if kind == "site" else readers
    _alter(connection, "ALTER ROLE %I NOLOGIN PASSWORD NULL", role)
    connection.execute(update(table).where(table.c.name == name).values(retired=func.now()))


def all_sites(connection: Connection) -> list[Site]:
    """Every site by name; for whoever looks after the archive."""
    asked = text(
        "SELECT name, url, (SELECT count(*) FROM festoon.runs WHERE site = name) AS runs, added, retired,"
        " heard.at AS heard, heard.waiting FROM festoon.sites"
        " LEFT JOIN festoon.heard ON heard.site = name ORDER BY name"
    )
    return [Site(*row) for row in connection.execute(asked)]


def all_readers(connection: Connection) -> list[Reader]:
    """Every reader by name; likewise."""
    given: dict[str, list[str]] = {}
    for row in connection.execute(select(readable_sites).order_by(readable_sites.c.site)):
        given.setdefault(row.reader, []).append(row.site)
    return [
        Reader(row.name, None if row.every_site else given.get(row.name, []), row.added, row.retired)
        for row in connection.execute(select(readers).order_by(readers.c.name))
    ]


def _let_read(connection: Connection, name: str, of: Sequence[str]) -> None:
    for site in dict.fromkeys(of):
        _role_of(connection, "site", site)
        connection.execute(insert(readable_sites).values(reader=name, site=site))


def _role_of(connection: Connection, kind: Kind, name: str) -> str:
    table = sites if kind == "site" else readers
    found = connection.execute(select(table.c.role).where(table.c.name == name)).scalar_one_or_none()
    if found is None:
        raise ArchiveFault(f"The archive has no {kind} {name!r}: `festoon archive {kind} list` says which it has.")
    return str(found)


def _made_role(connection: Connection, kind: Kind, name: str) -> Given:
    if not NAME.fullmatch(name) or name.startswith(RESERVED):
        also = f"; not one that begins with {RESERVED}" if name.startswith(RESERVED) else ""
        raise ArchiveFault(f"The name of a {kind}: found {name!r}; {NAMED}{also}.")
    database = connection.execute(text("SELECT current_database()")).scalar_one()
    role, group = f"{database}_{kind}_{name}", f"{database}_{kind}s"
    if len(role.encode()) > ROLE_BYTES:
        raise ArchiveFault(f"The role {role} is longer than PostgreSQL takes: name the {kind} or the database shorter.")
    table = sites if kind == "site" else readers
    if connection.execute(select(table.c.name).where(table.c.name == name)).first():
        raise ArchiveFault(f"The archive has a {kind} {name!r} already: `festoon archive {kind} key` gives it a key.")
    if connection.execute(text("SELECT 1 FROM pg_roles WHERE rolname = :role"), {"role": role}).first():
        raise ArchiveFault(f"The database has a role {role} that is no {kind} of this archive: drop that first.")
    key = secrets.token_urlsafe(KEY_BYTES)
    made = f"CREATE ROLE %I LOGIN CONNECTION LIMIT {CONNECTIONS[kind]} PASSWORD %L IN ROLE %I"
    _alter(connection, made, role, key, group)
    for habit in HABITS:
        _alter(connection, f"ALTER ROLE %I SET {habit}", role)
    return Given(role, key)


def _alter(connection: Connection, statement: str, *names: str) -> None:
    """Run what takes names and no parameters; the database itself quotes them."""
    listed = {f"name{number}": name for number, name in enumerate(names)}
    quoting = text(f"SELECT format(:statement, {', '.join(f'CAST(:{key} AS text)' for key in listed)})")
    made = connection.execute(quoting, {"statement": statement} | listed).scalar_one()
    connection.exec_driver_sql(made.replace("%", "%%"))


def _checked_url(url: str) -> str:
    if not re.fullmatch(r"https?://[^\s/?#]+/?", url):
        raise ArchiveFault(f"The address of a site's server: found {url!r}; accepted is http(s)://HOST[:PORT].")
    return url.rstrip("/")
