"""The paired devices, in the database of the log."""

import asyncio
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Engine, Row, insert, select, update

from server.access import Pairing, PairingFault
from server.runlog.faults import RunLogFault, told_plainly
from server.runlog.tables import pairings
from server.runlog.writer import Write, Writer
from server.timeline.events import rfc3339, time_from_rfc3339


class PairingTable:
    """A `server.access.Store`; writes go through the log's own thread, and share its commits."""

    def __init__(self, engine: Engine, writer: Writer, place: str) -> None:
        self._engine = engine
        self._writer = writer
        self._place = place

    def pairings(self) -> Sequence[Pairing]:
        """Those that were not withdrawn, the oldest first. Raises RunLogFault."""
        asked = select(pairings).where(pairings.c.withdrawn.is_(None)).order_by(pairings.c.created, pairings.c.id)
        with told_plainly(self._place), self._engine.connect() as connection:
            return [_pairing(row) for row in connection.execute(asked)]

    async def add(self, pairing: Pairing) -> None:
        """Write a new one down. Raises PairingFault."""
        row = pairing._asdict() | {"created": rfc3339(pairing.created), "until": rfc3339(pairing.until)}
        await self._write(lambda connection: connection.execute(insert(pairings).values(row)).rowcount)

    async def withdraw(self, pairing_id: str, at: datetime) -> None:
        """Write down that one was withdrawn. Raises PairingFault."""
        ending = update(pairings).where(pairings.c.id == pairing_id).values(withdrawn=rfc3339(at))
        await self._write(lambda connection: connection.execute(ending).rowcount)

    async def _write(self, write: Write) -> None:
        try:
            await asyncio.wrap_future(self._writer.ask(write))
        except RunLogFault as fault:
            raise PairingFault(str(fault)) from fault


def _pairing(row: Row[Any]) -> Pairing:
    created, until = time_from_rfc3339(row.created), time_from_rfc3339(row.until)
    return Pairing(row.id, row.name, row.role, row.secret_hash, row.key_id, created, until)
