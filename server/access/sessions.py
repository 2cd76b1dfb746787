"""What a paired device shows at each visit: its pairing and its secret, signed."""

import hashlib
import hmac
from typing import NamedTuple

_PURPOSE = b"festoon session 1\n"
"""Signed along, so that the key's other uses, should it get any, never make a session."""


class Session(NamedTuple):
    """What a token says: a pairing's id, and the secret that only its device has."""

    pairing_id: str
    secret: str


class Signer:
    """Writes tokens and reads those that were written with the same key."""

    def __init__(self, key: bytes) -> None:
        self._key = key
        self.key_id = hmac.new(key, b"festoon key id", hashlib.sha256).hexdigest()[:16]

    def token(self, session: Session) -> str:
        """The token: id, secret and HMAC-SHA256 (RFC 2104) in hexadecimal, with full stops between."""
        body = f"{session.pairing_id}.{session.secret}"
        return f"{body}.{self._mark(body)}"

    def session(self, token: str) -> Session | None:
        """What a token says; None where it is not of this key, or not whole."""
        body, _, mark = token.rpartition(".")
        pairing_id, _, secret = body.partition(".")
        if not hmac.compare_digest(self._mark(body).encode(), mark.encode()):
            return None
        return Session(pairing_id, secret)

    def _mark(self, body: str) -> str:
        return hmac.new(self._key, _PURPOSE + body.encode(), hashlib.sha256).hexdigest()


def secret_hash(secret: str) -> str:
    """What is kept of a secret: SHA-256, in hexadecimal. Enough for 256 random bits, which nobody can try out."""
    return hashlib.sha256(secret.encode()).hexdigest()
