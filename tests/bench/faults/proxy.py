"""A network between a tablet and its server, that can be as bad as networks are."""

import asyncio
import socket
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

CHUNK_BYTES = 1 << 14


class Proxy:
    """Passes every connection at `address` on to `target`, as its switches say at each moment.

    `delay_s` is how late bytes come either way, `stalled` keeps them until that ends, `refusing` resets whoever
    connects. `halve` says how many more chunks are cut in half, up or down, with a reset after the first half.
    """

    def __init__(self, target: str) -> None:
        host, port = target.split(":")
        self._target = (host, int(port))
        self._flows: set[asyncio.Task[None]] = set()
        self._plugs: set[asyncio.StreamWriter] = set()
        self._flowing = asyncio.Event()
        self._flowing.set()
        self.address = ""
        self.delay_s = 0.0
        self.refusing = False
        self.halve = {"up": 0, "down": 0}

    @property
    def stalled(self) -> bool:
        """Whether nothing gets through."""
        return not self._flowing.is_set()

    @stalled.setter
    def stalled(self, stalled: bool) -> None:
        (self._flowing.clear if stalled else self._flowing.set)()

    def reset(self) -> None:
        """Reset every connection, as a router does that was switched off and on."""
        for plug in list(self._plugs):
            reset(plug)

    async def take_in(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One connection."""
        if self.refusing:
            reset(writer)
            return
        there_reader, there = await asyncio.open_connection(*self._target)
        self._plugs |= {writer, there}
        flows = [
            asyncio.create_task(self._flow("up", reader, there)),
            asyncio.create_task(self._flow("down", there_reader, writer)),
        ]
        self._flows |= set(flows)
        await asyncio.wait(flows, return_when=asyncio.FIRST_COMPLETED)
        for plug in (writer, there):
            reset(plug)
        self._plugs -= {writer, there}
        await asyncio.gather(*flows, return_exceptions=True)
        self._flows -= set(flows)

    async def _flow(self, way: str, source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
        with suppress(ConnectionError):
            while data := await source.read(CHUNK_BYTES):
                await self._flowing.wait()
                if self.delay_s:
                    await asyncio.sleep(self.delay_s)
                if self.halve[way] and len(data) > 1:
                    self.halve[way] -= 1
                    sink.write(data[: len(data) // 2])
                    return
                sink.write(data)
                await sink.drain()

    async def close(self) -> None:
        """End what flows."""
        self.stalled = False
        self.reset()
        await asyncio.gather(*self._flows, return_exceptions=True)


def reset(plug: asyncio.StreamWriter) -> None:
    """End a connection without a word: what is under way is lost."""
    own: socket.socket | None = plug.get_extra_info("socket")
    if own is not None and not plug.is_closing():
        own.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    plug.transport.abort()


@asynccontextmanager
async def proxied(target: str) -> AsyncIterator[Proxy]:
    """Such a network, until the block ends."""
    proxy = Proxy(target)
    server = await asyncio.start_server(proxy.take_in, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    proxy.address = f"{host}:{port}"
    try:
        yield proxy
    finally:
        server.close()
        await proxy.close()
