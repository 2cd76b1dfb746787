"""Where a box of contacts can be connected to over the network."""

import socket
from contextlib import suppress

from adapters.contacts.pretend.wires import Heard

LEVELS_S = 0.2
"""How often a box here says all its levels."""


class Plug:
    """The box's end of a connection, at a port that stays the same; what nobody listens to is lost."""

    baud = None

    def __init__(self) -> None:
        self.heard: Heard | None = None
        self._listener: socket.socket | None = None
        self._other: socket.socket | None = None
        self._number = 0
        self.listen()

    def listen(self) -> str:
        """Have somebody connect; the address for a wiring file."""
        if self._listener is None:
            self._listener = socket.create_server(("127.0.0.1", self._number), reuse_port=True)
            self._listener.settimeout(LEVELS_S)
            self._number = self._listener.getsockname()[1]
        return f"socket://127.0.0.1:{self._number}"

    def take(self) -> bool:
        """Take whoever connects, in place of whoever did before; whether somebody is there."""
        with suppress(OSError, AttributeError):
            other, _ = self._listener.accept() if self._listener else (None, None)
            self.drop()
            self._other = other
        return self._other is not None

    def send(self, data: bytes) -> None:
        """To whoever is connected, as fast as it is taken."""
        with suppress(OSError):
            if self._other is not None:
                self._other.sendall(data)

    def drop(self) -> None:
        """End the connection."""
        other, self._other = self._other, None
        if other is not None:
            other.close()

    def die(self) -> None:
        """As a box without power: nobody can connect."""
        listener, self._listener = self._listener, None
        if listener is not None:
            listener.close()
        self.drop()
