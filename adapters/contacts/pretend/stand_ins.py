"""What stands in for the feeds of a wiring file: for each, a part that answers at a port of this computer."""

import asyncio
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final, Protocol, TypeAlias
from urllib.parse import urlsplit

from adapters.contacts.kinds import FeedWiring, is_device
from adapters.contacts.pretend.box import TextBox
from adapters.contacts.pretend.gateway import Gateway
from adapters.contacts.pretend.listener import HOST
from adapters.contacts.pretend.modules import Modules
from adapters.contacts.pretend.wires import Terminal

SAYS_ALL_S: Final = 0.5
"""How often a box says all its levels; the format asks for once a second at least. Chosen."""

Keys: TypeAlias = Mapping[str, object]
"""The keys of a feed as its wiring file has them."""


class NotHere(Exception):
    """What this kind of feed cannot do; the text says what is accepted."""


class StandIn(Protocol):
    """One part in the place of what is behind a feed.

    `address` is its port as a wiring file names it, once it was plugged in, and `keys` are those of the feed that have
    to be others for it. `levels` has every wired place, closed or not, as it was last set.
    """

    levels: dict[str, bool]
    keys: dict[str, object]

    @property
    def address(self) -> str: ...

    async def plug(self) -> None:
        """Have it there, speaking, by the address that it had before if it had one."""

    async def unplug(self) -> None:
        """Have it gone."""

    def hush(self, part: str | None) -> None:
        """Have it there and silent, or a part of it. Raises NotHere. To be plugged in to speak again."""

    def set(self, place: str, closed: bool) -> None:
        """A contact goes over."""

    def lose(self, place: str, closed: bool) -> None:
        """A contact goes over, and what should tell of it is lost. Raises NotHere."""

    def send_bytes(self, data: bytes) -> None:
        """Bytes that nobody meant to send."""


class BoxStandIn:
    """A box that sends lines of text: at a device, or behind a serial server."""

    def __init__(self, feed: FeedWiring, _keys: Keys, name: Path) -> None:
        self.levels = {each.place: each.normally_closed for each in feed.inputs}
        self.keys: dict[str, object] = {}
        self._terminal = Terminal(name) if is_device(feed.address) and sys.platform != "win32" else None
        self._gateway = Gateway(plain=not feed.address.startswith("rfc2217:"))
        self._box = TextBox(self._terminal or self._gateway, max(map(int, self.levels), default=1))
        self._sampling_s = feed.sampling_us / 1e6
        self._unsaid: list[str] = []
        self._timers: list[asyncio.Task[None]] = []

    @property
    def address(self) -> str:
        """As StandIn."""
        return self._gateway.address if self._terminal is None else str(self._terminal.name)

    async def plug(self) -> None:
        """As StandIn."""
        await self.unplug()
        if self._terminal is None:
            await self._gateway.start()
        else:
            self._terminal.plug()
        self._box.silent = False
        self._box.levels.update({int(place): closed for place, closed in self.levels.items()})
        self._box.restart()
        self._box.all_levels()
        self._timers = [asyncio.create_task(_again_and_again(SAYS_ALL_S, self._box.all_levels))]
        if self._sampling_s:
            self._timers.append(asyncio.create_task(_again_and_again(self._sampling_s, self._sample)))

    async def unplug(self) -> None:
        """As StandIn."""
        for timer in self._timers:
            timer.cancel()
        if self._terminal is not None:
            self._terminal.unplug()
        await self._gateway.kill()

    def hush(self, part: str | None) -> None:
        """As StandIn."""
        _refuse_part(part)
        self._box.silent = True

    def set(self, place: str, closed: bool) -> None:
        """As StandIn; a box that looks at its inputs only now and then tells of it then."""
        self.levels[place] = closed
        if not self._sampling_s:
            self._box.change(int(place), closed)
        elif place not in self._unsaid:
            self._unsaid.append(place)

    def lose(self, place: str, closed: bool) -> None:
        """As StandIn."""
        self.levels[place] = closed
        self._box.lose(int(place), closed)

    def send_bytes(self, data: bytes) -> None:
        """As StandIn."""
        self._box.send_bytes(data)

    def _sample(self) -> None:
        for place in self._unsaid:
            if self._box.levels[int(place)] is not self.levels[place]:
                self._box.change(int(place), self.levels[place])
        self._unsaid.clear()


class LinesStandIn:
    """The four status lines of a serial port, always behind a serial server: a pseudo-terminal has none."""

    _NAMES: Final = {"CTS": "cts", "DSR": "dsr", "DCD": "cd", "RI": "ri"}

    def __init__(self, feed: FeedWiring, _keys: Keys, _name: Path) -> None:
        self.levels = {each.place: each.normally_closed for each in feed.inputs}
        self.keys: dict[str, object] = {}
        self._gateway = Gateway(sampling_ms=feed.sampling_us // 1000)
        for place, closed in self.levels.items():
            self._gateway.set_line(self._NAMES[place], closed)

    @property
    def address(self) -> str:
        """As StandIn."""
        return self._gateway.address

    async def plug(self) -> None:
        """As StandIn."""
        await self.unplug()
        self._gateway.stalled = False
        await self._gateway.start()

    async def unplug(self) -> None:
        """As StandIn."""
        await self._gateway.kill()

    def hush(self, part: str | None) -> None:
        """As StandIn."""
        _refuse_part(part)
        self._gateway.stalled = True

    def set(self, place: str, closed: bool) -> None:
        """As StandIn."""
        self.levels[place] = closed
        self._gateway.set_line(self._NAMES[place], closed)

    def lose(self, place: str, closed: bool) -> None:  # noqa: ARG002 - as StandIn
        """As StandIn."""
        raise NotHere("accepted a feed of a box that sends lines, as nothing else has one to lose")

    def send_bytes(self, data: bytes) -> None:
        """As StandIn."""
        self._gateway.send(data)


class ModulesStandIn:
    """Input modules that speak Modbus: at a device, behind a plain serial server, or over TCP."""

    def __init__(self, feed: FeedWiring, keys: Keys, name: Path) -> None:
        self.levels = {each.place: each.normally_closed for each in feed.inputs}
        # A pseudo-terminal has no parity, and says so to whoever sets one.
        self.keys: dict[str, object] = {"parity": "none"} if "parity" in keys else {}
        units = sorted({_place(place)[0] for place in self.levels})
        last = max((_place(place)[2] for place in self.levels), default=0)
        self._modules = Modules(*units, size=(last // 16 + 1) * 16, sampling_ms=feed.sampling_us // 1000)
        self._terminal: Terminal | None = None
        self._gateway: Gateway | None = None
        device = is_device(feed.address)
        if device and sys.platform != "win32":
            self._terminal = Terminal(name)
        elif device or keys.get("framing") == "rtu":
            self._gateway = Gateway(plain=True)
            self.keys["framing"] = "rtu"
        for place, closed in self.levels.items():
            self.set(place, closed)

    @property
    def address(self) -> str:
        """As StandIn."""
        if self._terminal is not None:
            return str(self._terminal.name)
        number = urlsplit(self._gateway.address).port if self._gateway is not None else self._modules.number
        return f"tcp://{HOST}:{number}"

    async def plug(self) -> None:
        """As StandIn."""
        await self.unplug()
        self._modules.deaf.clear()
        if self._terminal is not None:
            self._modules.attach(self._terminal)
            self._terminal.plug()
        elif self._gateway is not None:
            self._modules.attach(self._gateway)
            await self._gateway.start()
        else:
            await self._modules.start_tcp()

    async def unplug(self) -> None:
        """As StandIn."""
        if self._terminal is not None:
            self._terminal.unplug()
        if self._gateway is not None:
            await self._gateway.kill()
        await self._modules.kill()

    def hush(self, part: str | None) -> None:
        """As StandIn: a part is one unit."""
        units = {str(_place(place)[0]): _place(place)[0] for place in self.levels}
        if part is not None and part not in units:
            raise NotHere(f"accepted one of its units: {', '.join(units)}")
        self._modules.deaf.update(units.values() if part is None else [units[part]])

    def set(self, place: str, closed: bool) -> None:
        """As StandIn."""
        self.levels[place] = closed
        unit, what, address = _place(place)
        levels = self._modules.coils if what == "coil" else self._modules.inputs
        levels[unit, address] = closed

    def lose(self, place: str, closed: bool) -> None:  # noqa: ARG002 - as StandIn
        """As StandIn."""
        raise NotHere("accepted a feed of a box that sends lines, as nothing else has one to lose")

    def send_bytes(self, data: bytes) -> None:
        """As StandIn."""
        self._modules.send_bytes(data)


STAND_INS: Final[Mapping[str, Callable[[FeedWiring, Keys, Path], StandIn]]] = {
    "text": BoxStandIn,
    "modem": LinesStandIn,
    "modbus": ModulesStandIn,
}
"""What stands in for each kind of port: made of the feed, its keys, and the name that a device may have."""


async def _again_and_again(period_s: float, act: Callable[[], None]) -> None:
    while True:
        await asyncio.sleep(period_s)
        act()


def _place(place: str) -> tuple[int, str, int]:
    """Unit, discrete or coil, and address."""
    unit, what, address = place.split("/")
    return int(unit), what, int(address)


def _refuse_part(part: str | None) -> None:
    if part is not None:
        raise NotHere("accepted a whole feed, as only modules fall silent one by one")
