"""TCP servers on this computer that can be killed and started again at the port they had."""

import asyncio
from collections.abc import Callable
from typing import Final, Generic, TypeVar, cast

HOST: Final = "127.0.0.1"


class Talk(asyncio.Protocol):
    """One connection; `ended` is called when it is over."""

    def __init__(self) -> None:
        self.ended: Callable[[], None] = lambda: None
        self._transport: asyncio.Transport | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """As asyncio."""
        self._transport = cast("asyncio.Transport", transport)

    def connection_lost(self, exc: Exception | None) -> None:  # noqa: ARG002 - as asyncio
        """As asyncio."""
        self.ended()

    def write(self, data: bytes) -> None:
        """To whoever is connected."""
        if data and self._transport is not None:
            self._transport.write(data)

    def drop(self) -> None:
        """End the connection without a word."""
        if self._transport is not None:
            self._transport.abort()


TalkT = TypeVar("TalkT", bound=Talk)


class Listener(Generic[TalkT]):
    """A server that has `make` answer each connection; `number` is its port, 0 before it was first started."""

    def __init__(self, make: Callable[[], TalkT]) -> None:
        self.number = 0
        self.talks: set[TalkT] = set()
        self._make = make
        self._server: asyncio.Server | None = None

    async def start(self) -> None:
        """Take connections, at the port it had before if it had one."""
        loop = asyncio.get_running_loop()
        self._server = await loop.create_server(self._made, HOST, self.number)
        self.number = self._server.sockets[0].getsockname()[1]

    async def kill(self) -> None:
        """Drop every connection and take no new one. One that does not run is left as it is."""
        server, self._server = self._server, None
        if server is not None:
            server.close()
            for talk in list(self.talks):
                talk.drop()
            await server.wait_closed()

    def _made(self) -> TalkT:
        talk = self._make()
        talk.ended = lambda: self.talks.discard(talk)
        self.talks.add(talk)
        return talk
