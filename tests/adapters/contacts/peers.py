"""Peers for the ports: the pretended box, gateway and modules, as the tests plug them in and kill them.

They are written from the documents and standards (`adapters/contacts/pretend`) and know no client library.
"""

import asyncio
import contextlib
import os
import tty
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from adapters.contacts.lines import Line, text_from_line
from adapters.contacts.pretend import box, modules
from adapters.contacts.pretend.gateway import Gateway
from adapters.contacts.pretend.wires import CHUNK_BYTES, Heard, Terminal

__all__ = ["PATIENCE_S", "Gateway", "Modules", "TextBox", "until", "wire"]

PATIENCE_S = 8.0


async def until(true: Callable[[], bool]) -> None:
    """Let the peers get on with it until something has come true."""
    async with asyncio.timeout(PATIENCE_S):
        while not true():  # noqa: ASYNC110 - a peer sets no event of ours
            await asyncio.sleep(0.002)


class TextBox(box.TextBox):
    """A box that sends lines, at an address that stays the same when it is unplugged and plugged in again."""

    def __init__(self, folder: Path, inputs: int = 5) -> None:
        self.address = folder / "box"
        self._terminal = Terminal(self.address)
        super().__init__(self._terminal, inputs)

    def plug(self) -> None:
        """Switched on: the first line has the number 0."""
        self._terminal.plug()
        self.restart()

    def unplug(self) -> None:
        self._terminal.unplug()

    def send(self, line: Line) -> None:
        self.send_bytes(text_from_line(line).encode() + b"\n")


class Modules(modules.Modules):
    """Modules that can also stand at the end of a serial line that is there already."""

    _device: "_Device | None" = None

    async def start_rtu(self, port: str) -> None:
        """Serve over a serial port."""
        self._device = _Device(port)
        self.attach(self._device)

    async def kill(self) -> None:
        await super().kill()
        if self._device is not None:
            self._device.close()
            self._device = None


class _Device:
    """A serial port by its name, as something that stands at it opens it."""

    baud = None

    def __init__(self, name: str) -> None:
        self.heard: Heard | None = None
        self._file = os.open(name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        asyncio.get_running_loop().add_reader(self._file, self._read)

    def send(self, data: bytes) -> None:
        os.write(self._file, data)

    def close(self) -> None:
        asyncio.get_running_loop().remove_reader(self._file)
        os.close(self._file)

    def _read(self) -> None:
        data = os.read(self._file, CHUNK_BYTES)
        if self.heard is not None:
            self.heard(data)


@asynccontextmanager
async def wire(folder: Path) -> AsyncIterator[tuple[str, str]]:
    """Two serial ports that are wired to each other."""
    ends = [os.openpty(), os.openpty()]
    names = []
    for number, (master, slave) in enumerate(ends):
        tty.setraw(slave)
        name = folder / f"end{number}"
        name.symlink_to(os.ttyname(slave))
        names.append(str(name))
        os.set_blocking(master, False)
    loop = asyncio.get_running_loop()
    for here, there in ((0, 1), (1, 0)):
        loop.add_reader(ends[here][0], _carry, ends[here][0], ends[there][0])
    try:
        yield names[0], names[1]
    finally:
        for master, slave in ends:
            loop.remove_reader(master)
            os.close(master)
            os.close(slave)


def _carry(source: int, sink: int) -> None:
    with contextlib.suppress(OSError):
        os.write(sink, os.read(source, CHUNK_BYTES))
