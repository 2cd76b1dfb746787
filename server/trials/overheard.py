"""What comes in at one port, as it comes and as it is understood: lines of a box, or the status lines of a port."""

import asyncio
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from typing import Final, Literal, Protocol

from adapters.base import FeedFault
from adapters.contacts import modem, text
from adapters.contacts.kinds import is_device, is_network
from adapters.contacts.lines import LINE_BYTES, Damaged, Heard, LineReader
from adapters.contacts.serial_port import SerialPort
from server.clock import Clock

SUMMED_UP_S: Final = 10.0
"""How often it is summed up how much came. Chosen."""

AGAIN_S: Final = 1.0
"""After a port was lost it is tried again so often. Chosen."""

Tell = Callable[[str], None]


class NotHeard(Exception):
    """A port that cannot be opened, in one sentence."""


def refused(address: str, kind: Literal["text", "modem"]) -> str | None:
    """Why an address cannot be listened to, None where it can."""
    if is_network(address, ("tcp",)):
        return f"found {address}, where modules are asked; accepted for those: festoon contacts --scan {address}"
    known = text.KIND if kind == "text" else modem.KIND
    if is_device(address) or is_network(address, known.schemes):
        return None
    forms = [*(f"{scheme}://host:port" for scheme in known.schemes), "a device such as /dev/ttyUSB0"]
    return f"found {address!r} for --kind {kind}; accepted {' or '.join(forms)}"


class Source(Protocol):
    """One port, and what is made of what comes in there. `came` says whether anything did."""

    @property
    def came(self) -> bool: ...
    async def open(self) -> None:
        """Open it. Raises FeedFault."""

    async def hear(self) -> None:
        """Tell of all that comes until the port is lost, which is a FeedFault."""

    async def close(self) -> None:
        """Let go."""

    def lately(self, seconds: float) -> str:
        """What came in these last seconds."""

    def in_all(self) -> str:
        """What came since the beginning."""


class Overheard:
    """What is heard at a port. `came` says whether anything was, `tell` gets each line for whoever listens.

    The address is one that is not `refused`.
    """

    def __init__(self, address: str, tell: Tell) -> None:
        self.came = False
        self._address = address
        self._tell = tell
        self._clock = Clock()

    def text(self, baud: int) -> None:
        """Hear what a box sends, until a signal. Raises NotHeard where the port cannot be opened at first."""
        asyncio.run(self._hear(TextSource(self._address, baud, self._at)))

    def modem(self) -> None:
        """Hear the four status lines, until a signal. Raises NotHeard as above."""
        asyncio.run(self._hear(StatusSource(self._address, self._at)))

    async def _hear(self, source: Source) -> None:
        try:
            await source.open()
        except FeedFault as fault:
            await source.close()
            raise NotHeard(str(fault)) from None
        summing_up = asyncio.create_task(self._sum_up(source))
        try:
            self._tell(f"Listening at {self._address} until Ctrl-C.")
            while True:
                try:
                    await source.hear()
                except FeedFault as fault:
                    self._at(f"{fault}; it is tried again every {AGAIN_S:g} s")
                await self._open_again(source)
        finally:
            summing_up.cancel()
            self.came = source.came
            await source.close()
            self._at(source.in_all())

    async def _open_again(self, source: Source) -> None:
        while True:
            await source.close()
            await asyncio.sleep(AGAIN_S)
            with suppress(FeedFault):
                await source.open()
                self._at("the port is open again")
                return

    async def _sum_up(self, source: Source) -> None:
        while True:
            await asyncio.sleep(SUMMED_UP_S)
            self._at(source.lately(SUMMED_UP_S))

    def _at(self, text: str) -> None:
        """Told with the time of this computer, to the millisecond."""
        self._tell(f"{self._clock.now().astimezone():%H:%M:%S.%f}"[:-3] + f"  {text}")


class TextSource:
    """The lines of a box; each is told as it came, with what it says."""

    def __init__(self, address: str, baud: int, tell: Tell) -> None:
        self._tell = tell
        self._serial = SerialPort(address, baud)
        self._reader = LineReader()
        self._held = b""
        self._counts = dict.fromkeys(("sound", "damaged", "lost", "bytes"), 0)
        self._before = dict(self._counts)

    @property
    def came(self) -> bool:
        """As Source."""
        return self._counts["bytes"] > 0

    async def open(self) -> None:
        """As Source."""
        self._reader, self._held = LineReader(), b""
        await self._serial.open()

    async def close(self) -> None:
        """As Source."""
        await self._serial.close()

    async def hear(self) -> None:
        """As Source."""
        while True:
            data = await self._serial.read()
            self._counts["bytes"] += len(data)
            self._held += data
            for raw in self._pieces():
                self._take(raw)

    def lately(self, seconds: float) -> str:
        """As Source, with rates."""
        new = {kind: count - self._before[kind] for kind, count in self._counts.items()}
        self._before = dict(self._counts)
        if not new["bytes"]:
            return f"nothing came in {seconds:g} s"
        hint = "" if new["sound"] else "; none is sound: see the box's speed, and --baud"
        return f"in {seconds:g} s {_told(new)} ({new['sound'] / seconds:.1f} sound lines a second){hint}"

    def in_all(self) -> str:
        """As Source."""
        return f"in all {_told(self._counts)}"

    def _pieces(self) -> Iterator[bytes]:
        """Lines with their ends; and what is longer than any line, as it is."""
        *ended, self._held = self._held.split(b"\n")
        yield from (line + b"\n" for line in ended)
        if len(self._held) > LINE_BYTES:
            raw, self._held = self._held, b""
            yield raw

    def _take(self, raw: bytes) -> None:
        said = [self._meaning(each) for each in self._reader.feed(raw)] or ["nothing new"]
        self._tell(f"{shown(raw)}  {'; '.join(said)}")

    def _meaning(self, heard: Heard | Damaged) -> str:
        if isinstance(heard, Damaged):
            self._counts["damaged"] += 1
            return f"damaged: {heard.text}"
        self._counts["sound"] += 1
        self._counts["lost"] += heard.lost
        return meaning_of(heard)


class StatusSource:
    """The status lines of a port; each is told at first, and when it goes over. It is its port's Receiver."""

    def __init__(self, address: str, tell: Tell) -> None:
        self._tell = tell
        self._port = modem.ModemPort(address, modem.POLL_MS[0] / 1000, list(modem.LINES))
        self._levels: dict[str, bool | None] = {}
        self._changes = 0
        self._before = 0
        self.came = False

    async def open(self) -> None:
        """As Source."""
        self._levels.clear()
        await self._port.open()

    async def close(self) -> None:
        """As Source."""
        await self._port.close()

    async def hear(self) -> None:
        """As Source."""
        clock = Clock()
        await self._port.run(self, lambda: clock.now_us(datetime.fromtimestamp(0, UTC)))

    def lately(self, seconds: float) -> str:
        """As Source."""
        new, self._before = self._changes - self._before, self._changes
        return f"in {seconds:g} s {new} changes ({new / seconds:.1f} a second)"

    def in_all(self) -> str:
        """As Source."""
        return f"in all {self._changes} changes"

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        """As `kinds.Receiver`."""
        known = place in self._levels
        if known and self._levels[place] is closed:
            return
        self._levels[place] = closed
        self._changes += known
        self.came = self.came or closed is not None
        level = "not known" if closed is None else "closed (high)" if closed else "open (low)"
        within = f", within {(late_us - early_us) / 1000:.0f} ms before" if known else ""
        self._tell(f"{place}  {'went ' if known else ''}{level}{within}")

    def tell(self, text: str, now_us: int, times: int = 1) -> None:  # noqa: ARG002 - as kinds.Receiver
        """As `kinds.Receiver`."""
        self._tell(text)

    def silence(self, part: str, text: str | None, now_us: int) -> None:
        """As `kinds.Receiver`; a port of status lines has no parts."""

    def due_us(self) -> int | None:
        """As `kinds.Receiver`: nothing is read again, every edge is told."""


def shown(raw: bytes) -> str:
    """Bytes as text on one line, without its end; what cannot be printed, and a backslash, as its number."""
    signs = raw.removesuffix(b"\n").removesuffix(b"\r")
    return "".join(chr(byte) if 32 <= byte < 127 and byte != 92 else f"\\x{byte:02x}" for byte in signs)


def meaning_of(heard: Heard) -> str:
    """What a sound line says."""
    line = heard.line
    said = ["sound"]
    if heard.restarted:
        said.append("the box was switched on")
    if heard.lost:
        said.append(f"{heard.lost} lost before it")
    if not line.whole:
        return "; ".join(
            [*said, *(f"{number} went {'closed' if on else 'open'}" for number, on in line.levels.items())]
        )
    for word, wanted in (("closed", True), ("open", False), ("not known", None)):
        numbers = [str(number) for number, level in sorted(line.levels.items()) if level is wanted]
        said += [f"{word}: {' '.join(numbers)}"] if numbers else []
    return "; ".join(said)


def _told(counts: dict[str, int]) -> str:
    return f"{counts['sound']} sound lines, {counts['damaged']} damaged, {counts['lost']} lost, {counts['bytes']} bytes"
