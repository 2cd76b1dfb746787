"""Which Modbus units answer at a port, how it has to be set for that, and what can be read of each. Nothing is written.

A question costs the line's own server an answer: a line that is being polled is disturbed.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Iterable, Sequence
from contextlib import asynccontextmanager
from typing import Final, Literal, NamedTuple, Protocol
from urllib.parse import urlsplit

from adapters.contacts.kinds import is_device, is_network
from adapters.contacts.modbus_frames import (
    EXCEPTION,
    MOST_BITS,
    READ_COILS,
    READ_DISCRETE_INPUTS,
    Message,
    message_from_rtu,
    read_request,
    rtu_from_message,
    split_tcp,
    tcp_from_message,
)
from adapters.contacts.serial_port import reason

UNITS: Final = range(1, 248)
"""The units that there can be on a line (MODBUS over Serial Line 1.02, 2.2, from memory)."""

BAUDS: Final = (9600, 19_200, 38_400, 57_600, 115_200, 4800, 2400, 1200)
"""The usual speeds, the most usual first. Common practice; the standard asks for 9600 and 19200."""

Parity = Literal["none", "even", "odd"]
PARITIES: Final[dict[Parity, str]] = {"none": "N", "even": "E", "odd": "O"}

ANSWERS_IN_S: Final = 0.1
"""How long a module on a line may think, beside the time that the bytes take. Chosen."""

SERVER_ANSWERS_IN_S: Final = 1.0
"""How long a server may take: one with a line behind it waits for that first, and asks one unit at a time. Chosen."""

FIRST_ADDRESSES: Final = (0, 1, 16, 32, 64, 100, 128, 256, 512, 1000, 1024, 2048, 4096, 8192, 10_000, 32_768)
"""Where inputs may begin: what begins anywhere else is not found. Chosen."""

NOT_THERE: Final = frozenset({10, 11})
"""The exceptions by which a gateway says that it cannot reach a unit (Application Protocol, 7)."""

ILLEGAL_FUNCTION: Final = 1
LAST_ADDRESS: Final = 65_535

_BITS_A_BYTE: Final = 11
_FRAMES_BYTES: Final = 8 + 6
"""A question and the answer to it, for one input."""

_OPENS_IN_S: Final = 3.0
_CHUNK_BYTES: Final = 4096


class Setting(NamedTuple):
    """One way to ask at a port: `baud` and `parity` on a device, or a framing over the network (`baud` 0)."""

    words: str
    answers_in_s: float
    baud: int = 0
    parity: Parity = "none"
    rtu: bool = True


class Unit(NamedTuple):
    """One unit that answered, at which setting, and which discrete inputs and coils it has, as text."""

    number: int
    setting: Setting
    discrete: str
    coils: str


class Found:
    """What was found until now. `noisy` are the settings at which something came that was no answer, `untried` those
    that could not be tried to the end, by why.
    """

    def __init__(self) -> None:
        self.units: list[Unit] = []
        self.noisy: list[Setting] = []
        self.untried: dict[str, list[Setting]] = {}


Progress = Callable[[int, Setting, int], None]
"""Is told before each question how many units were asked, at which setting, and which is asked now."""


def refused(address: str) -> str | None:
    """Why an address cannot be searched, None where it can."""
    if is_device(address) or is_network(address, ("tcp",)):
        return None
    return f"found {address!r}; accepted a device such as /dev/ttyUSB0 or tcp://host:port"


def settings_of(address: str, bauds: Sequence[int]) -> list[Setting]:
    """What is to be tried at an address: speeds and parities of a device, framings of `tcp://host:port`."""
    if _is_network(address):
        return [Setting("Modbus TCP", SERVER_ANSWERS_IN_S, rtu=False), Setting("RTU over TCP", SERVER_ANSWERS_IN_S)]
    return [
        Setting(f"{baud} baud, parity {parity}", ANSWERS_IN_S + _FRAMES_BYTES * _BITS_A_BYTE / baud, baud, parity)
        for baud in bauds
        for parity in PARITIES
    ]


def longest_s(settings: Iterable[Setting], units: Sequence[int]) -> float:
    """How long it takes where nobody answers."""
    return sum(setting.answers_in_s * len(units) for setting in settings)


async def search(
    address: str, settings: Sequence[Setting], units: Sequence[int], found: Found, progress: Progress
) -> None:
    """Ask every unit at every setting, and put into `found` what comes of it, as it comes.

    A server on the network speaks one framing: the next is only tried where nobody answered to the first. It may be
    cancelled, and `found` holds good.
    """
    for number, setting in enumerate(settings):
        if _is_network(address) and found.units:
            return
        try:
            async with _opened(address, setting) as line:
                for place, unit in enumerate(units):
                    progress(number * len(units) + place, setting, unit)
                    if await _is_there(line, unit):
                        found.units.append(await _unit(line, unit, setting))
                if line.noise:
                    found.noisy.append(setting)
        except (OSError, ValueError) as fault:
            found.untried.setdefault(reason(fault), []).append(setting)


class _Stream(Protocol):
    """What bytes come and go through: serialx's `AsyncSerial`, or a connection."""

    async def read(self, n: int) -> bytes: ...
    async def write(self, data: bytes) -> None: ...


class _Connection:
    """A connection as a `_Stream`."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader = reader
        self._writer = writer

    async def read(self, n: int) -> bytes:
        return await self._reader.read(n)

    async def write(self, data: bytes) -> None:
        self._writer.write(data)
        await self._writer.drain()


class _Line:
    """The port at one setting. `noise` says whether anything came that was no answer."""

    def __init__(self, stream: _Stream, setting: Setting) -> None:
        self.noise = False
        self._stream = stream
        self._setting = setting
        self._transaction = 0

    async def ask(self, unit: int, function: int, first: int, count: int) -> bytes | None:
        """The PDU of the answer of a unit; None where none comes in time. Raises OSError where the port is lost."""
        self._transaction = self._transaction % 0xFFFF + 1
        asked = Message(unit, read_request(function, first, count), self._transaction)
        setting, loop = self._setting, asyncio.get_running_loop()
        await self._stream.write(rtu_from_message(asked) if setting.rtu else tcp_from_message(asked))
        more_s = (count // 8) * _BITS_A_BYTE / setting.baud if setting.baud else 0.0
        until, data = loop.time() + setting.answers_in_s + more_s, b""
        while True:
            try:
                async with asyncio.timeout_at(until):
                    came = await self._stream.read(_CHUNK_BYTES)
            except TimeoutError:
                self.noise = self.noise or bool(data)
                return None
            if not came:
                raise ConnectionError("the connection was closed")
            data += came
            answer = self._answer_to(asked, data)
            if answer is not None:
                return answer

    def _answer_to(self, asked: Message, data: bytes) -> bytes | None:
        if self._setting.rtu:
            message = message_from_rtu(data)
            came = [] if message is None else [message._replace(transaction=asked.transaction)]
        else:
            came = split_tcp(data)[0]
        fits = (each.pdu for each in came if each._replace(pdu=asked.pdu) == asked)
        return next((pdu for pdu in fits if pdu[0] & ~EXCEPTION == asked.pdu[0]), None)


@asynccontextmanager
async def _opened(address: str, setting: Setting) -> AsyncIterator[_Line]:
    """The port, opened for one setting. Raises OSError and ValueError."""
    if _is_network(address):
        place = urlsplit(address)
        async with asyncio.timeout(_OPENS_IN_S):
            reader, writer = await asyncio.open_connection(place.hostname, place.port)
        try:
            yield _Line(_Connection(reader, writer), setting)
        finally:
            writer.transport.abort()
        return
    import serialx  # noqa: PLC0415 - a command that opens no port does not wait for it

    serial = serialx.async_serial_for_url(address, baudrate=setting.baud, parity=PARITIES[setting.parity])
    try:
        await serial.open()
        yield _Line(serial, setting)
    except serialx.SerialException as fault:
        raise OSError(str(fault)) from fault
    finally:
        serial.abort()


async def _is_there(line: _Line, unit: int) -> bool:
    """Whether a unit answers anything; that it refuses is an answer too.

    A unit on libmodbus (3.1.6) takes what follows a question to another for that one's answer. Where there is none, it
    hears nothing until the line has been silent for half a second. It is found where it is asked first.
    """
    answer = await line.ask(unit, READ_DISCRETE_INPUTS, 0, 1)
    return answer is not None and _exception_of(answer) not in NOT_THERE


async def _unit(line: _Line, unit: int, setting: Setting) -> Unit:
    discrete = await _extent(line, unit, READ_DISCRETE_INPUTS)
    return Unit(unit, setting, discrete, await _extent(line, unit, READ_COILS))


async def _extent(line: _Line, unit: int, function: int) -> str:
    """The addresses of a kind that a unit has, as far as they hang together."""
    for first in FIRST_ADDRESSES:
        answer = await line.ask(unit, function, first, 1)
        if answer is None:
            return "no answer"
        if _exception_of(answer) == ILLEGAL_FUNCTION:
            return "none"
        if _exception_of(answer) is None:
            return await _extent_from(line, unit, function, first)
    return "none found"


async def _extent_from(line: _Line, unit: int, function: int, first: int) -> str:
    """From `first`, which is there, to the last address that can be read at once with it."""
    there, missing = 1, min(MOST_BITS, LAST_ADDRESS + 1 - first) + 1
    while missing - there > 1:
        # The longest first: most units have few, and some as many as anybody asks for.
        count = missing - 1 if there == 1 and missing > MOST_BITS else (there + missing) // 2
        answer = await line.ask(unit, function, first, count)
        if answer is not None and _exception_of(answer) is None:
            there = count
        else:
            missing = count
    return f"{first} to {first + there - 1}{' at least' if there == MOST_BITS else ''}"


def _exception_of(answer: bytes) -> int | None:
    return answer[1] if answer[0] & EXCEPTION and len(answer) > 1 else None


def _is_network(address: str) -> bool:
    return address.startswith("tcp:")
