"""What the hub knows of a desk: something that takes whole messages and says how many bytes it still holds."""

from typing import NamedTuple, Protocol


class Message(NamedTuple):
    """One message to a desk, encoded once for all of them.

    `text` is JSON in UTF-8; `frame` is the same as one whole websocket text frame, ready for the wire.
    """

    text: bytes
    frame: bytes


class Desk(Protocol):
    """One connected screen. No method waits, and none raises because the peer is slow or gone."""

    def write(self, message: Message) -> None:
        """Hand over a message; it goes out after those before it, or nowhere if the desk is closed."""

    @property
    def buffered_bytes(self) -> int:
        """Bytes handed over that the operating system has not taken yet."""

    def close(self) -> None:
        """Drop the connection at once, with whatever is still held for it."""


def message_from_text(text: bytes) -> Message:
    """Frame a text message as a server sends it: final, text, not masked (RFC 6455, 5.2)."""
    size = len(text)
    if size < 126:
        head = bytes((0x81, size))
    elif size < 1 << 16:
        head = b"\x81\x7e" + size.to_bytes(2, "big")
    else:
        head = b"\x81\x7f" + size.to_bytes(8, "big")
    return Message(text, head + text)
