"""Run by Alembic: takes the connection that `server.archive.schema` made."""

from alembic import context

from server.archive.tables import SCHEMA

context.configure(connection=context.config.attributes["connection"], version_table_schema=SCHEMA)
with context.begin_transaction():
    context.run_migrations()
