"""Where desks connect: the port, its addresses, and the web server behind it."""

import errno
import signal
import socket
import ssl
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from types import FrameType

import uvicorn

from server.desk.access import is_loopback
from server.desk.connections import CountedConnection, Crowd, Gate, Seat
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


def home_port(port: socket.socket) -> socket.socket | None:
    """The same port number on this computer's own address, where `port` listens on another alone.

    None where `port` serves this computer already. Raises PortFault.
    """
    host, number = port.getsockname()[:2]
    if host in ANY_ADDRESS or is_loopback(host):
        return None
    return open_port("127.0.0.1", number)


def address(port: socket.socket, scheme: str = "http") -> str:
    """The address of the server for a browser on this computer, without a slash at its end."""
    host, number = port.getsockname()[:2]
    return _url(scheme, "localhost" if host in ANY_ADDRESS else host, number)


def address_for_others(port: socket.socket, scheme: str = "http", names: Sequence[str] = ()) -> str | None:
    """The address for browsers on other computers, as far as it is known; None where none can come.

    `names` are those of the certificate: one of them is taken where the address itself is none.
    """
    host, number = port.getsockname()[:2]
    if is_loopback(host):
        return None
    known = (own_address(port.family) or _own_name()) if host in ANY_ADDRESS else host
    named = [name for name in names if not is_loopback(name) and "*" not in name]
    return _url(scheme, named[0] if named and known not in names else known, number)


def own_address(family: int = socket.AF_INET) -> str | None:
    """This computer's address on the network that leads out of it; None where there is no such network.

    Nothing is sent: to connect a datagram socket only chooses a way. The address is for documentation (RFC 5737, RFC
    3849), and nobody's.
    """
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("2001:db8::1" if family == socket.AF_INET6 else "192.0.2.1", 9))
        except OSError:
            return None
        return str(probe.getsockname()[0])


def _own_name() -> str:
    """This computer's name as tablets find it without a name server (multicast DNS, RFC 6762, 3)."""
    name = socket.gethostname()
    return name if "." in name else f"{name}.local"


def own_names() -> list[str]:
    """What this computer is called, on its network and by itself: names, bare and under `.local`, and addresses."""
    name = socket.gethostname().lower()
    found = [own_address(family) for family in (socket.AF_INET, socket.AF_INET6)]
    return [name, f"{name}.local", "localhost", *(address for address in found if address), "127.0.0.1", "::1"]


def _url(scheme: str, host: str, number: int) -> str:
    return f"{scheme}://[{host}]:{number}" if ":" in host else f"{scheme}://{host}:{number}"


class WebServer(uvicorn.Server):
    """uvicorn for one application, quiet, with TLS where it is given; `started_up` is called once desks can connect.

    `ending` is called when it begins to end, for whoever has answers under way that would go on without end.

    It ends at an interrupt, a request to terminate or a terminal that goes. Unlike uvicorn it does not raise the signal
    again: what was started around it is closed by whoever started it.
    """

    def __init__(
        self,
        app: Application,
        started_up: Callable[[], None],
        tls: ssl.SSLContext | None = None,
        ending: Callable[[], None] = lambda: None,
    ) -> None:
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
        self._gate = Gate(Crowd(), tls, self._connection)
        self._started_up = started_up
        self._ending = ending
        self._stopped_by_signal = False

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to accept connections, and say so."""
        # uvicorn would count a connection by TLS only once it has shaken hands.
        await super().startup([])
        for port in sockets or ():
            self._gate.open(port)
        self._started_up()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Accept no more, and end what is under way."""
        self._ending()
        await self._gate.close()
        await super().shutdown(sockets)

    def _connection(self, seat: Seat) -> CountedConnection:
        return CountedConnection(
            seat, config=self.config, server_state=self.server_state, app_state=self.lifespan.state
        )

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
