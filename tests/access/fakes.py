"""Pairings kept in memory, a time moved by hand, and a doorkeeper of both."""

import asyncio
from datetime import UTC, datetime, timedelta

from server.access import Doorkeeper, Pairing, PairingFault, Pairings, Signer

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
KEY = bytes(range(32))


class HandTime:
    """A time that passes when told."""

    def __init__(self) -> None:
        self.at = NOON

    def now(self) -> datetime:
        return self.at

    def passes(self, **lapse: float) -> None:
        self.at += timedelta(**lapse)


class MemoryStore:
    """Keeps pairings until the test ends; with `fault` it cannot write, and it waits until it `may_write`."""

    def __init__(self) -> None:
        self.rows: dict[str, Pairing] = {}
        self.withdrawn: dict[str, datetime] = {}
        self.fault: str | None = None
        self.may_write = asyncio.Event()
        self.may_write.set()

    def pairings(self) -> list[Pairing]:
        return [pairing for pairing in self.rows.values() if pairing.id not in self.withdrawn]

    async def add(self, pairing: Pairing) -> None:
        await self._write()
        self.rows[pairing.id] = pairing

    async def withdraw(self, pairing_id: str, at: datetime) -> None:
        await self._write()
        self.withdrawn[pairing_id] = at

    async def _write(self) -> None:
        await self.may_write.wait()
        if self.fault:
            raise PairingFault(self.fault)


class Entrance:
    """A doorkeeper and what it stands on."""

    def __init__(self, store: MemoryStore | None = None, key: bytes = KEY, time: HandTime | None = None) -> None:
        self.time = time or HandTime()
        self.store = store or MemoryStore()
        self.pairings = Pairings(self.store, Signer(key), self.time.now)
        self.doorkeeper = Doorkeeper(self.pairings, self.time.now)

    def again(self, key: bytes = KEY) -> "Entrance":
        """After a restart: the same store, all else new."""
        return Entrance(self.store, key, self.time)
