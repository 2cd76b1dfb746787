"""How many connections one network may hold open, and how long a device may take to say what it wants.

A connection counts from the moment that it is accepted, whatever comes of it: a TLS handshake, a request, a websocket.
This reaches into uvicorn, whose protocols come into play only once a handshake is done.
"""

import asyncio
import ipaddress
import logging
import socket
import ssl
from collections.abc import Callable, Coroutine, MutableMapping
from functools import partial
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol, RequestResponseCycle
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.http11 import Request

from server.desk.access import FILE_BYTES, is_loopback

CONNECTIONS = 128
"""Chosen: a dozen tablets behind one access point, each with all runs. The system gives a program some 1000."""

PATIENCE_S = 10.0
"""How long a device may take to shake hands, to begin a request, and to say all of its head. Chosen."""

LEAST_BYTES_PER_S = 65_536
"""At this speed at least the rest of a request comes, after as long again. Chosen: a bad corner of a wireless net."""

AGAIN_S = 1.0
"""How long a server waits that the system gives no more connections. Chosen."""

_LET_IN = "festoon.let_in"
_log = logging.getLogger(__name__)


def network_of(host: str) -> str:
    """What is counted as one: an address, in IPv6 its network of 64 bits (RFC 4291, 2.5); `host` where it is neither.

    An IPv4 address that is written as IPv6 (2.5.5.2) is itself.
    """
    try:
        address = ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return host
    if isinstance(address, ipaddress.IPv6Address):
        mapped = address.ipv4_mapped
        return str(mapped or ipaddress.ip_network((address, 64), strict=False))
    return str(address)


def let_in(scope: MutableMapping[str, Any]) -> None:
    """Say that whoever asks over this connection may: it is then not the one that makes room for another."""
    known: Callable[[], None] | None = scope.get(_LET_IN)
    if known is not None:
        known()


def mark(scope: Any, seat: "Seat") -> None:  # noqa: ANN401 - uvicorn has a closed type of its own for each kind
    """Have `let_in` know the connection that a request comes by."""
    scope[_LET_IN] = seat.become_known


class Seat:
    """One open connection; `network` is what it counts for, None for this computer itself, which is not counted.

    `cut` ends it at once: that is another thing while it shakes hands.
    """

    def __init__(self, crowd: "Crowd", network: str | None) -> None:
        self._crowd = crowd
        self.network = network
        self.is_known = False
        self.cut: Callable[[], object] = self.leave

    def become_known(self) -> None:
        """It is that of a device which was let in."""
        self.is_known = True

    def leave(self) -> None:
        """The connection is gone; saying so twice is nothing."""
        self._crowd.seats.pop(self, None)


class Crowd:
    """The open connections of one server, oldest first."""

    def __init__(self) -> None:
        self.seats: dict[Seat, None] = {}

    def seat(self, host: str) -> Seat | None:
        """Take a connection in; None where its network has too many already, all of devices that were let in.

        Where others are among them the oldest of those goes: a device that only holds connections keeps nobody out.
        """
        network = None if is_loopback(host) else network_of(host)
        theirs = [seat for seat in self.seats if network is not None and seat.network == network]
        if len(theirs) >= CONNECTIONS:
            stranger = next((seat for seat in theirs if not seat.is_known), None)
            if stranger is None:
                return None
            stranger.leave()
            stranger.cut()
        seat = Seat(self, network)
        self.seats[seat] = None
        return seat


class Gate:
    """Takes in what connects at a server's ports; `begin` makes the protocol of each connection.

    With `tls` that begins once hands were shaken, but the connection counts from when it was accepted.
    """

    def __init__(self, crowd: Crowd, tls: ssl.SSLContext | None, begin: Callable[[Seat], asyncio.Protocol]) -> None:
        self._crowd = crowd
        self._tls = tls
        self._begin = begin
        self._work: set[asyncio.Task[None]] = set()

    def open(self, port: socket.socket) -> None:
        """Begin to accept at a port that is listened on."""
        port.setblocking(False)
        self._go_on(self._accept(port))

    async def close(self) -> None:
        """Accept no more, and drop whoever still shakes hands."""
        work = list(self._work)
        for task in work:
            task.cancel()
        await asyncio.gather(*work, return_exceptions=True)

    def _go_on(self, work: Coroutine[Any, Any, None]) -> asyncio.Task[None]:
        task = asyncio.get_running_loop().create_task(work)
        self._work.add(task)
        task.add_done_callback(self._work.discard)
        return task

    async def _accept(self, port: socket.socket) -> None:
        while True:
            try:
                plug, peer = await asyncio.get_running_loop().sock_accept(port)
            except ConnectionError:  # it went before its turn came
                continue
            except OSError as error:
                _log.warning("a connection could not be accepted (%s): trying again in %.0f s", error.strerror, AGAIN_S)
                await asyncio.sleep(AGAIN_S)
                continue
            seat = self._crowd.seat(peer[0])
            if seat is None:
                plug.close()
            else:
                seat.cut = self._go_on(self._take_in(plug, seat)).cancel

    async def _take_in(self, plug: socket.socket, seat: Seat) -> None:
        patience_s = None if self._tls is None else PATIENCE_S
        try:
            await asyncio.get_running_loop().connect_accepted_socket(
                lambda: self._begin(seat),
                plug,
                ssl=self._tls,
                ssl_handshake_timeout=patience_s,
                ssl_shutdown_timeout=patience_s,
            )
        except OSError:  # it speaks no TLS, or not ours, or took too long, or went
            seat.leave()
        except BaseException:
            seat.leave()
            raise


class CountedConnection(HttpToolsProtocol):
    """uvicorn's connection, but for one that does not say what it wants in time: that is dropped."""

    def __init__(self, seat: Seat, **given: Any) -> None:  # noqa: ANN401 - as uvicorn calls it
        super().__init__(**given)
        self._seat = seat
        self._deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        self._seat.cut = transport.abort
        self.ws_protocol_class = partial(CountedWebsocket, self._seat)  # type: ignore[assignment]
        self._wait(PATIENCE_S)

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._seat.leave()
        self._wait_no_more()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Wait for the rest of what begins here: uvicorn gives up its own waiting at any byte, a line end too."""
        cycle: RequestResponseCycle | None = self.cycle
        if self._deadline is None and (cycle is None or cycle.response_complete):
            self._wait(PATIENCE_S)
        super().data_received(data)

    def on_message_begin(self) -> None:
        """A request begins."""
        super().on_message_begin()
        mark(self.scope, self._seat)
        self._wait(PATIENCE_S)

    def on_headers_complete(self) -> None:
        """Its head is here; what it says of its length is what is waited for."""
        super().on_headers_complete()
        length = dict(self.headers).get(b"content-length", b"0")
        size_bytes = min(int(length), FILE_BYTES) if length.isdigit() else FILE_BYTES
        self._wait(PATIENCE_S + size_bytes / LEAST_BYTES_PER_S)

    def on_message_complete(self) -> None:
        """All of it is here."""
        self._wait_no_more()
        super().on_message_complete()

    def _wait(self, patience_s: float) -> None:
        self._wait_no_more()
        self._deadline = self.loop.call_later(patience_s, self.transport.abort)

    def _wait_no_more(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


class CountedWebsocket(WebSocketsSansIOProtocol):
    """uvicorn's websocket, counted as the connection that it began as; a text that is no UTF-8 closes it with 1007."""

    def __init__(self, seat: Seat, **given: Any) -> None:  # noqa: ANN401 - as uvicorn calls it
        super().__init__(**given)
        self._seat = seat

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._seat.leave()
        super().connection_lost(exc)

    def handle_connect(self, event: Request) -> None:
        """Have the application know whose connection this is."""
        super().handle_connect(event)
        if self.response.status_code == 101:
            mark(self.scope, self._seat)

    def send_receive_event_to_app(self) -> None:
        """Take a message; what uvicorn does of one that is no UTF-8, without its page of log (RFC 6455, 8.1)."""
        if self.curr_msg_data_type == "text" and not self.close_sent and not _is_utf8(b"".join(self.frames)):
            self.frames = []
            self.conn.fail(1007, "A text is UTF-8.")
            self.handle_parser_exception()
        else:
            super().send_receive_event_to_app()


def _is_utf8(text: bytes) -> bool:
    try:
        text.decode()
    except UnicodeDecodeError:
        return False
    return True
