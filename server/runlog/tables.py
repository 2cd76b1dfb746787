"""The tables of the log as they are now; how they came to be is in `migrations`."""

from sqlalchemy import BigInteger, Column, ForeignKey, Integer, MetaData, String, Table, Text, UniqueConstraint

metadata = MetaData()

runs = Table(
    "runs",
    metadata,
    Column("id", String(200), primary_key=True),
    Column("plan_name", String(200), nullable=False),
    Column("plan_text", Text, nullable=False),
    Column("created", String(40), nullable=False),
    Column("sum", BigInteger),
)
"""One row a run, with the whole text of its plan. Times are RFC 3339 in UTC; `sum` is that of the columns before it."""

events = Table(
    "events",
    metadata,
    Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("id", String(200), nullable=False),
    Column("arrived", String(40), nullable=False),
    Column("body", Text, nullable=False),
    Column("sum", BigInteger),
    UniqueConstraint("run", "id", name="events_once"),
)
"""One row an event, never changed: `seq` counts from 1 in each run, `body` is the event as a line of a recording.

`sum` is that of the columns before it.
"""

losses = Table(
    "losses",
    metadata,
    Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
    Column("first", Integer, primary_key=True, autoincrement=False),
    Column("last", Integer, nullable=False),
    Column("found", String(40), nullable=False),
    Column("kept", String(200)),
)
"""One row for every stretch of a run's events that damage took: when it was found, and the file that was set aside."""

pairings = Table(
    "pairings",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("name", String(200), nullable=False),
    Column("role", String(20), nullable=False),
    Column("secret_hash", String(64), nullable=False),
    Column("key_id", String(16), nullable=False),
    Column("created", String(40), nullable=False),
    Column("until", String(40), nullable=False),
    Column("withdrawn", String(40)),
)
"""One row a paired device, kept when it is withdrawn. Of its secret there is the hash alone."""

archived = Table(
    "archived",
    metadata,
    Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
    Column("at", String(40), nullable=False),
    Column("by", String(200), nullable=True),
)
"""One row a run that was put away: when, and by whom if it was said. Its events stay."""

summaries = Table(
    "summaries",
    metadata,
    Column("run", String(200), ForeignKey("runs.id"), primary_key=True),
    Column("events", Integer, nullable=False),
    Column("made_by", String(40), nullable=False),
    Column("body", Text, nullable=False),
)
"""What was counted of a run when it had so many `events`, by a Festoon of version `made_by`; it can be made again."""

versions = Table("festoon_log", metadata, Column("version", Integer, nullable=False))
"""One row: the number of the last migration."""
