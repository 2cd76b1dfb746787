"""Where desks connect: the port, its addresses, and the web server behind it."""

import errno
import signal
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import uvicorn

from server.desk.access import is_loopback
from server.live import UVICORN_OPTIONS
from server.live.frames import Application

BACKLOG = 2048
"""Connections that may wait to be accepted: all desks come back at once after a restart. Chosen."""

PATIENCE_S = 3
"""How long a stopping server waits for what is under way. Chosen."""

ANY_ADDRESS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - these are compared with, not bound to


class PortFault(Exception):
    """The port cannot be listened on: one sentence that says why and what to do."""


def open_port(host: str, port: int, *, or_any: bool = False) -> socket.socket:
    """Listen on `host` (a name or an address) and `port`; 0 is any free one, and so is one in use with `or_any`.

    Raises PortFault.
    """
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((host, port), family=family, backlog=BACKLOG)
    except (OSError, UnicodeError) as error:  # UnicodeError: a name with an empty or overlong part
        number = error.errno if isinstance(error, OSError) else None
        if or_any and number == errno.EADDRINUSE:
            return open_port(host, 0)
        raise PortFault(_fault_text(host, port, number, error)) from error


def _fault_text(host: str, port: int, number: int | None, error: Exception) -> str:
    if number == errno.EADDRINUSE:
        return f"Port {port} is in use by another program: stop that, or choose another with --port (0: any free one)."
    if number in {errno.EACCES, errno.EPERM}:
        return f"Port {port} may not be used by you: choose one over 1023 with --port."
    why = str(getattr(error, "strerror", None) or error).partition(" (")[0]
    return f"{host} port {port} cannot be listened on ({why}): choose an address of this computer with --host."


def address(port: socket.socket) -> str:
    """The address of the server for a browser on this computer, without a slash at its end."""
    host, number = port.getsockname()[:2]
    return _url("localhost" if host in ANY_ADDRESS else host, number)


def address_for_others(port: socket.socket) -> str | None:
    """The address for browsers on other computers, as far as it is known; None where none can come."""
    host, number = port.getsockname()[:2]
    if is_loopback(host):
        return None
    return _url(socket.gethostname() if host in ANY_ADDRESS else host, number)


def _url(host: str, number: int) -> str:
    return f"http://[{host}]:{number}" if ":" in host else f"http://{host}:{number}"


class WebServer(uvicorn.Server):
    """uvicorn for one application, quiet; `started_up` is called once desks can connect.

    It ends at an interrupt, a request to terminate or a terminal that goes. Unlike uvicorn it does not raise the signal
    again: what was started around it is closed by whoever started it.
    """

    def __init__(self, app: Application, started_up: Callable[[], None]) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                access_log=False,
                log_config=None,
                lifespan="off",
                proxy_headers=False,
                server_header=False,
                backlog=BACKLOG,
                timeout_graceful_shutdown=PATIENCE_S,
                **UVICORN_OPTIONS,
            )
        )
        self._started_up = started_up
        self._stopped_by_signal = False

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to accept connections, and say so."""
        await super().startup(sockets)
        self._started_up()

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Have the signals stop the server; once one has, no other interrupts what is then closed."""
        handled = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if sys.platform != "win32" else [])]
        before = {number: signal.signal(number, self._stop) for number in handled}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, signal.SIG_IGN if self._stopped_by_signal else handler)

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self._stopped_by_signal = True
        self.handle_exit(number, frame)
