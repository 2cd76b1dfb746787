"""The paired devices: who has each, what it may do, and until when."""

import hmac
import logging
import secrets
from collections.abc import Awaitable, Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Literal, NamedTuple, Protocol

from server.access.sessions import Session, Signer, secret_hash

Role = Literal["booth", "look", "report"]
"""`booth` changes things, `look` only looks (wall and lobby), `report` sees the lobby and reports from the houses."""

LIFE = timedelta(days=30)
"""Chosen: a device that was put aside or lost is not let in for good."""


_log = logging.getLogger(__name__)


class Pairing(NamedTuple):
    """One device: `name` is the person who has it, `secret_hash` all that is kept of its secret.

    `key_id` is that of the key which signed its session: with another key it is worth nothing.
    """

    id: str
    name: str
    role: Role
    secret_hash: str
    key_id: str
    created: datetime
    until: datetime


class PairingFault(Exception):
    """What could not be kept of a pairing: one sentence."""


class Store(Protocol):
    """What keeps pairings (`server.runlog.RunLog` has one). The awaitables raise PairingFault."""

    def pairings(self) -> Sequence[Pairing]:
        """Those that were not withdrawn, the oldest first."""

    def add(self, pairing: Pairing) -> Awaitable[None]:
        """Done once it is on disk."""

    def withdraw(self, pairing_id: str, at: datetime) -> Awaitable[None]:
        """Done once it is on disk."""


class Pairings:
    """The pairings that hold, and who is connected by each."""

    def __init__(self, store: Store, signer: Signer, now: Callable[[], datetime]) -> None:
        self._store = store
        self._signer = signer
        self._now = now
        stored = store.pairings()
        self._held = {pairing.id: pairing for pairing in stored if pairing.key_id == signer.key_id}
        self._unwritten: set[str] = set()
        self._present: dict[str, dict[object, Callable[[], None]]] = {}

    def all(self) -> list[Pairing]:
        """Those that hold now, the oldest first."""
        return [pairing for pairing in self._held.values() if self.holds(pairing)]

    def holds(self, pairing: Pairing) -> bool:
        """Whether a pairing still does: it was not withdrawn, and is not too old."""
        return pairing.id in self._held and self._now() < pairing.until

    def holder(self, token: str) -> Pairing | None:
        """The pairing that a session's token is of; None where it is forged, of another key, withdrawn or too old."""
        session = self._signer.session(token)
        pairing = self._held.get(session.pairing_id) if session else None
        if session is None or pairing is None or not self.holds(pairing):
            return None
        return pairing if hmac.compare_digest(pairing.secret_hash, secret_hash(session.secret)) else None

    async def add(self, name: str, role: Role) -> tuple[Pairing, str]:
        """A new pairing, once it is on disk, and the token of its device. Raises PairingFault."""
        session = Session(secrets.token_hex(8), secrets.token_urlsafe(32))
        kept, now = secret_hash(session.secret), self._now()
        pairing = Pairing(session.pairing_id, name, role, kept, self._signer.key_id, now, now + LIFE)
        await self._store.add(pairing)
        self._held[pairing.id] = pairing
        return pairing, self._signer.token(session)

    async def withdraw(self, pairing_id: str) -> bool:
        """End a pairing at once, its open connections too; False where there is none. Raises PairingFault.

        Where that cannot be written down it holds until the program ends, and asking again writes it again.
        """
        if self._held.pop(pairing_id, None) is not None:
            self._unwritten.add(pairing_id)
        if pairing_id not in self._unwritten:
            return False
        for leave in list(self._present.get(pairing_id, {}).values()):
            leave()
        await self._store.withdraw(pairing_id, self._now())
        self._unwritten.discard(pairing_id)
        _log.info("pairing ended", extra={"pairing": pairing_id})
        return True

    def connections(self, pairing_id: str) -> int:
        """How many connections of a pairing are open."""
        return len(self._present.get(pairing_id, ()))

    @contextmanager
    def present(self, pairing_id: str, leave: Callable[[], None]) -> Iterator[None]:
        """Count a connection as open; `leave` is called when its pairing is withdrawn, before now or meanwhile."""
        if pairing_id not in self._held:
            leave()
        connection = object()
        self._present.setdefault(pairing_id, {})[connection] = leave
        try:
            yield
        finally:
            del self._present[pairing_id][connection]
            if not self._present[pairing_id]:
                del self._present[pairing_id]
