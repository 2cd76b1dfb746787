"""Contacts that a box sends as lines of text over a serial line (`lines` has their format)."""

import asyncio
from typing import Final, NamedTuple

from adapters.base import FeedFault
from adapters.contacts.kinds import Kind, MakePort, NowUs, Receiver
from adapters.contacts.lines import MOST_INPUTS, Damaged, DeviceClock, Heard, LineReader
from adapters.contacts.serial_port import BAUD, CHUNK_BYTES, SerialPort
from server.timeline.tables import Table

SILENT_S: Final = (5.0, 0.5, 3600.0)
"""Chosen: a box sends all levels once a second."""

SHARE: Final = 0.1
"""Of a processor, for one port: one that floods must not take the others' time. Chosen: ten times what a box with 64
inputs at 115200 baud needs."""

LONGEST_PAUSE_S: Final = 0.02
"""For that a port waits no longer than this between two looks at what has come. Chosen: half a film frame."""


class TextOptions(NamedTuple):
    """How fast the line is, and after how long without a sound line it counts as silent."""

    baud: int
    silent_s: float


class TextPort:
    """The port of such a box. Nothing is ever sent to it."""

    def __init__(self, address: str, options: TextOptions) -> None:
        self._silent_s = options.silent_s
        self._serial = SerialPort(address, options.baud)
        self._address = address
        self._clock = DeviceClock()
        self._reader = LineReader()
        self._first: list[tuple[float, Heard | Damaged]] = []
        self._sound_us: int | None = None
        self._lacks = False
        self._read_at = 0.0
        # Since when more had come than one look takes, each time.
        self._full_at: float | None = None

    async def open(self) -> None:
        """Open the serial line, and hear something sound of it: a port without its box is as good as none."""
        await self._serial.open()
        self._read_at = asyncio.get_running_loop().time()
        self._reader, self._first, self._sound_us, self._lacks = LineReader(), [], None, False
        self._full_at = None
        silent_at = asyncio.get_running_loop().time() + self._silent_s
        while not any(isinstance(heard, Heard) for _, heard in self._first):
            # Of what is damaged before the first sound line, one will do.
            self._first = [*self._first[:1], *await self._hear(silent_at)]

    async def run(self, receiver: Receiver, now_us: NowUs) -> None:
        """Read lines until there are none for too long, or the line is lost."""
        loop = asyncio.get_running_loop()
        heard, self._first = self._first, []
        silent_at = loop.time() + self._silent_s
        while True:
            for at, each in heard:
                arrived_us = now_us() - round((loop.time() - at) * 1e6)
                if isinstance(each, Damaged):
                    receiver.tell(each.text, arrived_us)
                else:
                    silent_at = at + self._silent_s
                    self._take(each, receiver, arrived_us)
            heard = await self._hear(silent_at)

    async def close(self) -> None:
        """Close the serial line."""
        await self._serial.close()

    async def _hear(self, silent_at: float) -> list[tuple[float, Heard | Damaged]]:
        """The next lines, and when they came by the loop's time. Raises FeedFault, also where it is silent by then."""
        loop = asyncio.get_running_loop()
        await asyncio.sleep(min((loop.time() - self._read_at) * (1 / SHARE - 1), LONGEST_PAUSE_S))
        try:
            async with asyncio.timeout_at(silent_at):
                data = await self._serial.read()
        except TimeoutError:
            raise FeedFault(f"{self._address} has sent no sound line for {self._silent_s:g} s") from None
        self._read_at = loop.time()
        self._keeps_up(len(data))
        return [(self._read_at, heard) for heard in self._reader.feed(data)]

    def _keeps_up(self, came_bytes: int) -> None:
        """Let a port go that sends faster than it is read: what it says by now would be told too late to be of use."""
        if came_bytes < CHUNK_BYTES:
            self._full_at = None
        elif self._full_at is None:
            self._full_at = self._read_at
        elif self._read_at - self._full_at > self._silent_s:
            raise FeedFault(f"{self._address} has sent more than can be read for {self._silent_s:g} s")

    def _take(self, heard: Heard, receiver: Receiver, arrived_us: int) -> None:
        first, line = self._sound_us is None, heard.line
        if heard.restarted:
            self._clock.restart()
            if not first:
                receiver.tell("the box was switched on again", arrived_us)
        if heard.lost:
            receiver.tell("lines were lost on the way", arrived_us, heard.lost)
        at_us = arrived_us if line.device_ms is None else self._clock.at_us(line.device_ms, arrived_us)
        # What a line with all levels says anew, a line that was lost should have said before, since all was known.
        early_us = at_us if self._sound_us is None or not line.whole else min(self._sound_us, at_us)
        self._lacks = not line.whole and (self._lacks or heard.lost > 0 or heard.restarted)
        if not self._lacks:
            self._sound_us = at_us
        for number, closed in line.levels.items():
            receiver.read(str(number), early_us, at_us, closed=closed)


def _port(table: Table, address: str) -> MakePort:
    options = TextOptions(table.whole("baud", *BAUD), table.number("silent_s", *SILENT_S))
    return lambda _places: TextPort(address, options)


def _place(text: str) -> str | None:
    return text if text.isascii() and text.isdigit() and text[0] != "0" and int(text) <= MOST_INPUTS else None


KIND = Kind(
    name="text",
    place=_place,
    places=f"a number in quotes, '1' to '{MOST_INPUTS}'",
    schemes=("socket", "rfc2217"),
    device=True,
    polled=False,
    port=_port,
)
