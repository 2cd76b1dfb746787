"""Many desks in one process, each of which reads frames and does as little else as a client can."""

import asyncio
import base64
import os
import time
from types import TracebackType
from typing import Self, cast

OPEN = b"HTTP/1.1 101 "


class Listener(asyncio.Protocol):
    """One desk: opens a websocket (RFC 6455), answers pings, and says when a frame has what is looked for."""

    def __init__(self, crowd: "Crowd") -> None:
        self._crowd = crowd
        self._held = bytearray()
        self._open = False
        self.transport: asyncio.Transport

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self.transport = cast(asyncio.Transport, transport)  # uvloop's own is no subclass
        key = base64.b64encode(os.urandom(16)).decode()
        self.transport.write(
            f"GET {self._crowd.path} HTTP/1.1\r\nHost: {self._crowd.address}\r\n"
            "Upgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {key}\r\n\r\n".encode()
        )

    def data_received(self, data: bytes) -> None:
        self._held += data
        if not self._open:
            head, end, rest = self._held.partition(b"\r\n\r\n")
            if not end:
                return
            assert head.startswith(OPEN), head
            self._open, self._held = True, rest
            self._crowd.opened()
        while (frame := self._next_frame()) is not None:
            opcode, payload = frame
            if opcode == 9:
                self.send(0x8A, payload)
            elif self._crowd.sought in payload and payload.startswith(b'{"type":"change"'):
                self._crowd.heard(payload)

    def _next_frame(self) -> tuple[int, bytes] | None:
        """The first whole frame of what has come (RFC 6455, 5.2), taken off it; None until there is one."""
        held = self._held
        if len(held) < 2:
            return None
        start, size = 2, held[1]
        if size > 125:
            start = 4 if size == 126 else 10
            size = int.from_bytes(held[2:start], "big")
        if len(held) < start + size:
            return None
        frame = held[0] & 15, bytes(held[start : start + size])
        del held[: start + size]
        return frame

    def send(self, first: int, payload: bytes) -> None:
        """Send a frame as a client does: masked, here with zeros, which leave the bytes as they are."""
        size = len(payload)
        length = bytes((0x80 | size,)) if size < 126 else b"\xfe" + size.to_bytes(2, "big")
        self.transport.write(bytes((first,)) + length + bytes(4) + payload)

    def connection_lost(self, exc: Exception | None) -> None:
        self._crowd.lost(exc)


class Crowd:
    """So many desks on one websocket address."""

    def __init__(self, address: str, path: str, desks: int) -> None:
        self.address = address
        self.path = path
        self.sought = b"\0"
        self._desks = desks
        self._listeners: list[Listener] = []
        self._waiting = desks
        self._done: asyncio.Future[bytes]
        self._done_at = 0.0
        self._leaving = False

    async def __aenter__(self) -> Self:
        """Connect all, fifty at a time, and let them come to rest."""
        loop = asyncio.get_running_loop()
        self._done = loop.create_future()
        host, port = self.address.split(":")
        for first in range(0, self._desks, 50):
            group = range(first, min(first + 50, self._desks))
            made = await asyncio.gather(
                *(loop.create_connection(lambda: Listener(self), host, int(port)) for _ in group)
            )
            self._listeners += [listener for _, listener in made]
        async with asyncio.timeout(10.0):
            await self._done
        await asyncio.sleep(1.0)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._leaving = True
        for listener in self._listeners:
            listener.transport.abort()
        await asyncio.sleep(0.2)

    async def deliver(self, text: str, sought: bytes) -> tuple[float, bytes]:
        """Have one desk say `text`; how long until the last desk has a change with `sought`, and that change."""
        self.sought = sought
        self._waiting = self._desks
        self._done = asyncio.get_running_loop().create_future()
        start = time.perf_counter()
        self._listeners[0].send(0x81, text.encode())
        async with asyncio.timeout(10.0):
            message = await self._done
        return self._done_at - start, message

    def opened(self) -> None:
        """Count a desk that is connected."""
        self.heard(b"")

    def heard(self, message: bytes) -> None:
        """Count a desk that has what is looked for; the last of them ends the wait."""
        self._waiting -= 1
        if self._waiting == 0:
            self._done_at = time.perf_counter()
            self._done.set_result(message)

    def lost(self, error: Exception | None) -> None:
        """A desk that is dropped spoils the measurement."""
        if not self._leaving and not self._done.done():
            self._done.set_exception(error or ConnectionError("a desk was dropped"))
