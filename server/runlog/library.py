"""Putting runs away, bringing them back, removing them, and keeping what was counted of them."""

import asyncio
from datetime import datetime

from sqlalchemy import Connection, delete, insert

from server.runlog.tables import archived, events, runs, summaries
from server.runlog.writer import Write, Writer
from server.timeline.events import rfc3339


class LibraryTable:
    """What is written of whole runs; by the log's own thread, so that it shares its commits.

    Every result is how many rows it wrote, once that is on disk, or a RunLogFault; call each in the running loop.
    """

    def __init__(self, writer: Writer, last_seq: dict[str, int]) -> None:
        self._writer = writer
        self._last_seq = last_seq

    def archive(self, run_id: str, at: datetime, by: str | None) -> asyncio.Future[int]:
        """Put a run away; nothing of it is lost."""
        row = {"run": run_id, "at": rfc3339(at), "by": by}

        def write(connection: Connection) -> int:
            connection.execute(delete(archived).where(archived.c.run == run_id))
            return connection.execute(insert(archived).values(row)).rowcount

        return self._ask(write)

    def bring_back(self, run_id: str) -> asyncio.Future[int]:
        """Undo `archive`."""
        statement = delete(archived).where(archived.c.run == run_id)
        return self._ask(lambda connection: connection.execute(statement).rowcount)

    def remove(self, run_id: str) -> asyncio.Future[int]:
        """Delete a run and everything observed in it, for good."""

        def write(connection: Connection) -> int:
            for table in (archived, summaries, events):
                connection.execute(delete(table).where(table.c.run == run_id))
            self._last_seq.pop(run_id, None)
            return connection.execute(delete(runs).where(runs.c.id == run_id)).rowcount

        return self._ask(write)

    def keep_summary(self, run_id: str, events_counted: int, made_by: str, body: str) -> asyncio.Future[int]:
        """Keep what was counted of a run that has so many events, in place of what was counted before."""
        row = {"run": run_id, "events": events_counted, "made_by": made_by, "body": body}

        def write(connection: Connection) -> int:
            connection.execute(delete(summaries).where(summaries.c.run == run_id))
            return connection.execute(insert(summaries).values(row)).rowcount

        return self._ask(write)

    def _ask(self, write: Write) -> asyncio.Future[int]:
        return asyncio.wrap_future(self._writer.ask(write))
