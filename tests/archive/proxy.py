"""A network of the tests' own between a site and its archive: it breaks off, stands still, and comes back."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class Proxy:
    """Passes bytes between whoever connects to `port` and a port of this computer, while it is let."""

    def __init__(self, to: int) -> None:
        self._to = to
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._lock = threading.Lock()
        self._ends: list[socket.socket] = []
        self._flows = threading.Event()
        self._flows.set()
        self._refuses = False
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        """Break off every connection, and take no other."""
        with self._lock:
            self._refuses = True
            ends, self._ends = self._ends, []
        self._flows.set()
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def mend(self) -> None:
        """Let everything through again."""
        self._refuses = False
        self._flows.set()

    def stand_still(self) -> None:
        """Take what comes, and pass nothing on."""
        self._flows.clear()

    def close(self) -> None:
        self.cut()
        self._listening.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listening.accept()
            except OSError:
                return
            if self._refuses:
                near.close()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                near.close()
                continue
            with self._lock:
                self._ends += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self._pass, args=(one, other), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                self._flows.wait()
                other.sendall(data)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@contextmanager
def proxy(to: int) -> Iterator[Proxy]:
    """A proxy, gone afterwards."""
    made = Proxy(to)
    try:
        yield made
    finally:
        made.close()
