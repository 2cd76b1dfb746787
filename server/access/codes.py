"""Codes that pair one device, once, soon."""

import hashlib
import hmac
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import NamedTuple

from server.access.pairings import Role

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32 (from memory): no I, L, O or U, so that nothing is read for something else."""

LENGTH = 8
"""40 bits. With the attempts that `doorkeeper` lets through in a code's life, 180, and as many codes as may be open at
once, 20, somebody who guesses has one chance in 300 million."""

LIFE = timedelta(minutes=10)
"""Chosen: time to walk to a tablet."""

MOST_OPEN = 20
"""Chosen; a further one takes the place of the oldest."""

_READ_AS = str.maketrans({"O": "0", "I": "1", "L": "1", "-": None, " ": None})


class Invitation(NamedTuple):
    """What a code is for: `name` who will use the device, None where they say so themselves; no longer than `until`."""

    name: str | None
    role: Role
    until: datetime


def link_with_code(address: str, code: str) -> str:
    """The address of a page with a code behind the #, where browsers keep it to themselves (RFC 3986, 3.5)."""
    return f"{address}#{code}"


class Codes:
    """The codes that were made and not used yet. Their hashes alone are held, and they end with the program."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._key = secrets.token_bytes(32)
        self._open: dict[bytes, Invitation] = {}

    def make(self, name: str | None, role: Role) -> tuple[str, Invitation]:
        """A new code, as people write it, and what it is for."""
        code = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
        invitation = Invitation(name, role, self._now() + LIFE)
        while len(self._open) >= MOST_OPEN:
            del self._open[next(iter(self._open))]
        self._open[self._hash(code)] = invitation
        return f"{code[:4]}-{code[4:]}", invitation

    def invitation(self, code: str) -> Invitation | None:
        """What a code is for, however it was written; None for one that is wrong, used or too old."""
        found = self._found(code)
        return None if found is None else self._open[found]

    @contextmanager
    def used(self, code: str) -> Iterator[None]:
        """Have a code be worth nothing from now on; where the block raises it is as before."""
        found = self._found(code)
        invitation = None if found is None else self._open.pop(found)
        try:
            yield
        except BaseException:
            if found is not None and invitation is not None:
                self._open[found] = invitation
            raise

    def _found(self, code: str) -> bytes | None:
        now = self._now()
        self._open = {known: invitation for known, invitation in self._open.items() if now < invitation.until}
        tried = self._hash(code.upper().translate(_READ_AS))
        return next((known for known in self._open if hmac.compare_digest(known, tried)), None)

    def _hash(self, code: str) -> bytes:
        return hmac.digest(self._key, code.encode(), hashlib.sha256)
