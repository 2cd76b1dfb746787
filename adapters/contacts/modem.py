"""The status lines of a serial port as four contacts: CTS, DSR, DCD and RI.

A contact is wired from DTR or RTS, which are held on, to one of them. Nothing tells of a change, so they are polled.
"""

import asyncio
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from adapters.base import FeedFault
from adapters.contacts.kinds import Kind, MakePort, NowUs, Receiver, is_device, until_next_s
from adapters.contacts.racing import first_of
from adapters.contacts.serial_port import SerialPort
from server.timeline.tables import Table

if TYPE_CHECKING:
    from serialx import ModemPins

LINES: Final[Mapping[str, str]] = {"CTS": "cts", "DSR": "dsr", "DCD": "car", "RI": "rng"}
"""What each line is called by people and by the library."""

POLL_MS: Final = (20, 5, 1000)
BEAT_US: Final = 300_000
"""How often the port has to answer. Chosen: with `ANSWER_S`, one that stalls is known to within about a second."""

BAUD: Final = 9600
"""No byte is ever sent: any speed will do."""

Levels = dict[str, bool | None]


class ModemPort:
    """The status lines of one port. A line of which the port says nothing is not known, and never open."""

    def __init__(self, address: str, poll_s: float, places: Sequence[str]) -> None:
        self._poll_s = poll_s
        self._serial = SerialPort(address, BAUD)
        self._wired = places
        self._told = False

    async def open(self) -> None:
        """Open the port and see that it has status lines. A gateway may tell of them only when one changes."""
        await self._serial.open()
        await self._serial.confirm()
        levels = levels_from_pins(await self._serial.pins())
        self._told = any(levels[line] is not None for line in self._wired)
        if not self._told and is_device(self._serial.address):
            raise FeedFault(f"{self._serial.address} has no status lines that it tells of")

    async def run(self, receiver: Receiver, now_us: NowUs) -> None:
        """Read the lines until the port is lost."""
        if not self._told:
            receiver.tell("the gateway tells of no status line before it changes: until then it is not known", now_us())
        await first_of(self._poll(receiver, now_us), self._drain())

    async def close(self) -> None:
        """Close the port."""
        await self._serial.close()

    async def _poll(self, receiver: Receiver, now_us: NowUs) -> None:
        known: Levels = {}
        asked_us = confirmed_us = now_us()
        while True:
            before_us, asked_us = asked_us, now_us()
            levels = levels_from_pins(await self._serial.pins())
            read_us = now_us()
            if levels != known or read_us - confirmed_us >= BEAT_US:
                await self._serial.confirm()
                known, confirmed_us = levels, now_us()
            for line, closed in levels.items():
                receiver.read(line, before_us, read_us, closed=closed)
            await asyncio.sleep(until_next_s(receiver.due_us(), now_us(), self._poll_s))

    async def _drain(self) -> None:
        """Bytes mean nothing here, but unread ones would hold up the gateway's word about its lines."""
        while True:
            await self._serial.read()


def levels_from_pins(pins: "ModemPins") -> Levels:
    """The level of each line: high is closed; None where the port does not say."""
    return {line: getattr(pins, name).to_bool() for line, name in LINES.items()}


def _port(table: Table, address: str) -> MakePort:
    poll_s = table.whole("poll_ms", *POLL_MS) / 1000
    return lambda places: ModemPort(address, poll_s, places)


def _place(text: str) -> str | None:
    return text if text in LINES else None


KIND = Kind(
    name="modem",
    place=_place,
    places=", ".join(LINES).replace(", RI", " or RI"),
    schemes=("rfc2217",),
    device=True,
    polled=True,
    port=_port,
)
