"""The tables of the archive as they are now; `migrations` makes them, with what the database itself enforces."""

from typing import Final

from sqlalchemy import ARRAY, BigInteger, Boolean, Column, Date, DateTime, Integer, MetaData, Table, Text
from sqlalchemy.dialects.postgresql import JSONB

SCHEMA: Final = "festoon"
VERSION: Final = "1"
"""The last migration."""

metadata = MetaData(schema=SCHEMA)

sites = Table(
    "sites",
    metadata,
    Column("name", Text, primary_key=True),
    Column("role", Text, nullable=False, unique=True),
    Column("url", Text, nullable=False),
    Column("added", DateTime(timezone=True), nullable=False),
    Column("retired", DateTime(timezone=True)),
)
"""One row a site: the role that it signs in as, and the address of its own server, for whoever wants its wall."""

readers = Table(
    "readers",
    metadata,
    Column("name", Text, primary_key=True),
    Column("role", Text, nullable=False, unique=True),
    Column("every_site", Boolean, nullable=False),
    Column("added", DateTime(timezone=True), nullable=False),
    Column("retired", DateTime(timezone=True)),
)
"""One row for whoever reads; of every site, or of those in `readable_sites`."""

readable_sites = Table(
    "readable_sites",
    metadata,
    Column("reader", Text, primary_key=True),
    Column("site", Text, primary_key=True),
)

runs = Table(
    "runs",
    metadata,
    Column("site", Text, primary_key=True),
    Column("run", Text, primary_key=True),
    Column("local", Text, nullable=False),
    Column("month", Date, nullable=False),
    Column("plan_name", Text, nullable=False),
    Column("plan_text", Text, nullable=False),
    Column("created", Text, nullable=False),
    Column("sum", BigInteger),
    Column("events", Integer, nullable=False),
    Column("last_arrived", Text),
    Column("day", Date, nullable=False),
    Column("words", Text, nullable=False),
    Column("plan_words", Text, nullable=False),
    Column("houses", ARRAY(Text), nullable=False),
    Column("facts", JSONB),
    Column("fault", Text),
    Column("trouble", JSONB),
    Column("state", Text),
    Column("damaged", Boolean, nullable=False),
    Column("put_away_at", Text),
    Column("put_away_by", Text),
    Column("deleted", DateTime(timezone=True)),
)
"""One row a run as a site has it: `local` is what the site calls it, `run` the same unless histories went apart.

From `plan_name` to `sum` as in the site's log. `events` is the number of the last event that is here, so it is where
the site goes on. From `day` to `damaged` is what a list of runs says, and is looked in; words are case-folded.
`deleted` is when the archive let go of its events and plan: the site does not send them again.
"""

events = Table(
    "events",
    metadata,
    Column("site", Text, primary_key=True),
    Column("run", Text, primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("month", Date, primary_key=True),
    Column("arrived", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("sum", BigInteger, nullable=False),
)
"""One row an event, never changed: number, arrival, body and checksum as in the site's log. `month` is its run's."""

summaries = Table(
    "summaries",
    metadata,
    Column("site", Text, primary_key=True),
    Column("run", Text, primary_key=True),
    Column("events", Integer, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("body", Text, nullable=False),
)

pictures = Table(
    "pictures",
    metadata,
    Column("site", Text, primary_key=True),
    Column("run", Text, primary_key=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("body", JSONB, nullable=False),
)
"""One row a live run, of the last that was heard of it, by the archive's clock."""

heard = Table(
    "heard",
    metadata,
    Column("site", Text, primary_key=True),
    Column("at", DateTime(timezone=True), nullable=False),
    Column("waiting", Integer, nullable=False),
)
"""One row a site: when it was last heard of, by the archive's clock, and how many events waited there then."""
