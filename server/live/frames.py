"""Where a desk meets the web server: whole frames straight to the connection, or the ordinary way where that fails.

The same bytes go to every desk. So the websocket frame is made once and handed to each connection as it is, without a
queue, a task or an ASGI send for a desk (tests/bench/fanout.py measures it). That needs the connection behind ASGI's
`send`, which is a bound method of uvicorn's own protocol class. Nothing outside this module knows it; a test notices
when uvicorn changes; and any other server, or the test client, gets `QueuedDesk`.
"""

import asyncio
import socket
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from server.live.desks import Desk, Message

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

UNHEARD_MS = 1500
"""A desk is gone whose system has no room or acknowledges nothing for so long; something is sent every 2 s. Chosen."""

_USER_TIMEOUT: int | None = getattr(socket, "TCP_USER_TIMEOUT", None)

UVICORN_OPTIONS: dict[str, Any] = {
    "ws": "websockets-sansio",
    # Compression costs 2.5 times the processor and 32 KiB a desk, and a compressed frame is each desk's own.
    "ws_per_message_deflate": False,
    # Where it can, the system itself notices a desk that is gone. A ping a second and its answer cost more than a beat.
    "ws_ping_interval": 20.0 if _USER_TIMEOUT else 1.0,
    "ws_ping_timeout": 20.0 if _USER_TIMEOUT else UNHEARD_MS / 1000,
    "ws_max_size": 1 << 16,
}
"""Keyword arguments of `uvicorn.Config` that the desks need."""

KERNEL_BYTES = 1 << 16
"""What the system may hold for a desk that does not read: left alone, some 2.8 MiB of stale changes. Chosen."""

_KEY = "festoon.desk"


class FramedDesk:
    """A desk on uvicorn's websocket connection; frames go to its transport as they are."""

    def __init__(self, connection: WebSocketsSansIOProtocol) -> None:
        self._connection = connection
        self._transport = connection.transport
        plug = self._transport.get_extra_info("socket")
        if plug is not None:
            plug.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, KERNEL_BYTES)
            if _USER_TIMEOUT is not None and plug.family in {socket.AF_INET, socket.AF_INET6}:
                plug.setsockopt(socket.IPPROTO_TCP, _USER_TIMEOUT, UNHEARD_MS)

    def write(self, message: Message) -> None:
        connection = self._connection
        if not (connection.close_sent or connection.disconnected):
            self._transport.write(message.frame)

    @property
    def buffered_bytes(self) -> int:
        return self._transport.get_write_buffer_size()

    def close(self) -> None:
        self._transport.abort()


class QueuedDesk:
    """A desk on any ASGI server: a queue, and a task that sends what is in it one after another."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self._held: list[Message] = []
        self._task: asyncio.Task[None] | None = None
        self._closed = False
        self.buffered_bytes = 0

    def write(self, message: Message) -> None:
        if self._closed:
            return
        self._held.append(message)
        self.buffered_bytes += len(message.text)
        if self._task is None:
            self._task = asyncio.create_task(self._drain())

    def close(self) -> None:
        if not self._closed:
            self._closed = True
            self._forget()
            if self._task is not None:
                self._task.cancel()
            self._task = asyncio.create_task(self._send_close())

    async def _drain(self) -> None:
        while self._held:
            message = self._held.pop(0)
            try:
                await self._send({"type": "websocket.send", "text": message.text.decode()})
            except (OSError, RuntimeError):  # the peer is gone, or its websocket was closed (ASGI, "send after close")
                self._closed = True
                self._forget()
                return
            self.buffered_bytes -= len(message.text)
        self._task = None

    def _forget(self) -> None:
        self._held.clear()
        self.buffered_bytes = 0

    async def _send_close(self) -> None:
        try:
            await self._send({"type": "websocket.close", "code": 1013})
        except (OSError, RuntimeError):
            return


class DeskMiddleware:
    """Leaves in each websocket's scope the desk that `desk_from_scope` gives; it must be the outermost layer."""

    def __init__(self, app: Application) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            scope[_KEY] = lambda: _desk(send)
        await self._app(scope, receive, send)


def desk_from_scope(scope: Scope) -> Desk:
    """The desk of an accepted websocket. Raises KeyError where the application is not inside `DeskMiddleware`."""
    desk: Desk = scope[_KEY]()
    return desk


def _desk(send: Send) -> Desk:
    connection = getattr(send, "__self__", None)
    if isinstance(connection, WebSocketsSansIOProtocol):
        return FramedDesk(connection)
    return QueuedDesk(send)
