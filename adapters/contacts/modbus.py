"""Digital input modules that speak Modbus, over a serial line (RTU) or the network (TCP), polled.

An input is written `unit/discrete/address` or `unit/coil/address`, with the address that goes over the wire, from 0. A
manual that calls an input 10001 means discrete 0.
"""

import asyncio
import logging
import random
import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, Literal, NamedTuple
from urllib.parse import urlsplit

from adapters.base import FeedFault
from adapters.contacts.kinds import Kind, MakePort, NowUs, Receiver, is_network, until_next_s
from adapters.contacts.serial_port import BAUD, DEVICE_FAULTS, OPEN_S, lost, reason
from server.timeline.tables import Table

if TYPE_CHECKING:
    from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient

POLL_MS: Final = (50, 20, 1000)
"""The usual: what a line of 9600 baud can keep up with."""

_EARLIER: Final = 0.4
"""A look comes up to so much of its time earlier. Chosen."""

ANSWER_S: Final = 0.3
"""How long a module may take to answer, beside the time that the bytes take. Chosen."""

TALK_BITS: Final = (8 + 5 + 32) * 11
"""The longest question with its answer on a serial line, 11 bits a byte (Modbus over serial line, 2.5.1)."""

SILENT_US: Final = 1_000_000
"""A unit that has not answered for so long is gone. Chosen: three answers are missing."""

AGAIN_US: Final = 2_000_000
"""After how long a unit that is gone is asked again, one of them in a round: it costs the others an answer. Chosen."""

NO_ANSWER: Final = frozenset({4, 5, 6, 10, 11})
"""Modbus exceptions that say nothing of the address: failed, not done yet, busy, and a gateway's unit not there."""

MOST_INPUTS: Final = 256
"""Read at once. Chosen: under the 2000 of the Modbus application protocol, 6.2, and 40 bytes."""

WIDEST_GAP: Final = 8
"""Inputs further apart are asked for by themselves: a module refuses a question with one address too many. Chosen."""

UNITS: Final = range(1, 248)
"""0 is for all of them at once, and none answers to it (Modbus over serial line, 2.2)."""

LAST_ADDRESS: Final = 65_535

_FUNCTIONS: Final[Mapping["What", int]] = {"coil": 1, "discrete": 2}
"""What a question and its answer are called (Modbus application protocol, 6.1 and 6.2)."""

_PLACE: Final = re.compile(r"([0-9]{1,3})/(discrete|coil)/([0-9]{1,5})")
_PARITIES: Final[dict[Literal["none", "even", "odd"], str]] = {"none": "N", "even": "E", "odd": "O"}

What = Literal["discrete", "coil"]


class ModbusOptions(NamedTuple):
    """How often the inputs are read, and how the line is set; `rtu` over the network is for a plain gateway."""

    poll_s: float
    baud: int
    parity: str
    stop_bits: int
    rtu: bool


class Block(NamedTuple):
    """Inputs of one unit that are read at once: `size` of them from `first`."""

    unit: int
    what: What
    first: int
    size: int

    def place(self, index: int) -> str:
        """The place of the input so far into the block."""
        return f"{self.unit}/{self.what}/{self.first + index}"


class Unit:
    """One unit on the wire: what is read of it, and when all of that was last heard.

    `asked_us` is when its last answer was asked for: none of its inputs was read before that. A silent one is asked
    again from `next_us` on. No time is anything where nothing was: a run's zero may lie ahead.
    """

    def __init__(self, number: int, blocks: Sequence[Block]) -> None:
        self.number = number
        self.blocks = blocks
        self.heard_us: int | None = None
        self.asked_us: dict[Block, int] = {}
        self.next_us: int | None = None

    @property
    def silent(self) -> bool:
        """Whether it is not read with the others any more."""
        return self.next_us is not None


def waits_s(poll_s: float) -> Iterator[float]:
    """The times from look to look without end, `poll_s` at the most, and never alike.

    A contact that flickers as often as it is looked at would seem to be steady (aliasing). Looks that come at random
    are in step with nothing.
    """
    chance = random.Random(poll_s)  # noqa: S311 - nothing is kept secret by it
    while True:
        yield poll_s * (1.0 - _EARLIER * chance.random())


class ModbusPort:
    """The modules behind one port. One that falls silent does not silence the others; all of them do the feed."""

    def __init__(self, address: str, options: ModbusOptions, places: Sequence[str]) -> None:
        self._options = options
        self._address = address
        self._blocks = blocks_of(places)
        self._client: AsyncModbusTcpClient | AsyncModbusSerialClient | None = None
        self._units: list[Unit] = []
        self._exceptions: dict[int, int] = {}

    async def open(self) -> None:
        """Connect, and have one unit answer: a port without its modules is as good as none."""
        # It writes a line about every answer that does not come; what matters of them is told here.
        logging.getLogger("pymodbus").setLevel(logging.CRITICAL)
        self._client = _client(self._address, self._options)
        await self._connect(self._client)
        numbers = sorted({block.unit for block in self._blocks})
        self._units = [Unit(n, [block for block in self._blocks if block.unit == n]) for n in numbers]
        for unit in self._units:
            if await self._bits(unit.blocks[0]) is not None:
                return
        raise FeedFault(self._all_silent())

    async def run(self, receiver: Receiver, now_us: NowUs) -> None:
        """Read all inputs again and again until the port is lost, or no unit answers."""
        started_us = now_us()
        for wait_s in waits_s(self._options.poll_s):
            begun_us = now_us()
            for unit in self._due(begun_us):
                await self._read(unit, receiver, now_us)
                self._judge(unit, receiver, started_us, now_us())
            if all(unit.silent for unit in self._units):
                raise FeedFault(self._all_silent())
            left_s = wait_s - (now_us() - begun_us) / 1e6
            await asyncio.sleep(until_next_s(receiver.due_us(), now_us(), max(0.0, left_s)))

    async def close(self) -> None:
        """Disconnect."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    async def _connect(self, client: "AsyncModbusTcpClient | AsyncModbusSerialClient") -> None:
        """As the client's own, which keeps to itself why it could not."""
        try:
            async with asyncio.timeout(OPEN_S):
                client.ctx.transport, _ = await client.ctx.call_create()
        except TimeoutError:
            raise FeedFault(f"{self._address} cannot be opened within {OPEN_S:g} s") from None
        except DEVICE_FAULTS as error:
            raise FeedFault(f"{self._address} cannot be opened: {reason(error)}") from error

    def _due(self, now_us: int) -> list[Unit]:
        """Whom to ask: all that answer, and of the silent ones that whose turn came first."""
        turns = [(unit.next_us, unit.number) for unit in self._units if unit.next_us is not None]
        first = min(turns, default=None)
        again = first[1] if first is not None and first[0] <= now_us else None
        return [unit for unit in self._units if not unit.silent or unit.number == again]

    async def _read(self, unit: Unit, receiver: Receiver, now_us: NowUs) -> None:
        for block in unit.blocks:
            asked_us = now_us()
            bits = await self._bits(block)
            if bits is None:
                return
            answered_us = now_us()
            before_us = unit.asked_us.get(block, asked_us)
            unit.asked_us[block] = asked_us
            for index in range(block.size):
                receiver.read(block.place(index), before_us, answered_us, closed=bits[index])
        unit.heard_us = now_us()

    def _judge(self, unit: Unit, receiver: Receiver, started_us: int, now_us: int) -> None:
        """Tell of a unit that fell silent or is back, and ask a silent one less often."""
        heard_us = started_us if unit.heard_us is None else unit.heard_us
        silent = now_us - heard_us > SILENT_US
        unit.next_us = now_us + AGAIN_US if silent else None
        if silent:
            if len(self._units) > 1:
                receiver.silence(str(unit.number), self._silence_of(unit.number), now_us)
        elif unit.heard_us is not None:
            receiver.silence(str(unit.number), None, now_us)

    def _silence_of(self, number: int) -> str:
        code = self._exceptions.get(number)
        why = "does not answer" if code is None else f"says that it cannot answer (Modbus exception {code})"
        return f"unit {number} of {self._address} {why}"

    def _all_silent(self) -> str:
        """The units of a gateway that does answer are silent in its words."""
        first = min(self._exceptions, default=None)
        return f"{self._address}: no unit answers" if first is None else self._silence_of(first)

    async def _bits(self, block: Block) -> Sequence[bool] | None:
        """The levels of a block; None where no answer came. Raises FeedFault for a lost port and a refusal."""
        from pymodbus.exceptions import ModbusException  # noqa: PLC0415 - as in _client

        client = self._client
        if client is None or not client.connected:
            raise FeedFault(f"{self._address} {lost(self._address)}")
        ask = client.read_coils if block.what == "coil" else client.read_discrete_inputs
        try:
            answer = await ask(block.first, count=block.size, device_id=block.unit)
        except (ModbusException, OSError):
            answer = None
        _heed_cancellation()
        self._exceptions.pop(block.unit, None)
        if answer is None:
            return None
        if answer.isError():
            code = getattr(answer, "exception_code", None)
            if code in NO_ANSWER:
                self._exceptions[block.unit] = code
                return None
            raise FeedFault(
                f"unit {block.unit} of {self._address} refuses {block.what} {block.first} to"
                f" {block.first + block.size - 1} (Modbus exception {code}): see the input's address"
            )
        # A late answer to another question has its unit, and on a serial line nothing else, in common with this one.
        fits = answer.function_code == _FUNCTIONS[block.what] and len(answer.bits) == -block.size % 8 + block.size
        return answer.bits if fits else None


def blocks_of(places: Iterable[str]) -> list[Block]:
    """What to read for these places: as few blocks as hold them."""
    wanted = sorted((int(m[1]), m[2], int(m[3])) for place in places if (m := _PLACE.fullmatch(place)))
    blocks: list[Block] = []
    for unit, what, address in wanted:
        last = blocks[-1] if blocks else None
        near = last and address - last.first < MOST_INPUTS and address - last.first - last.size < WIDEST_GAP
        if last and near and (last.unit, last.what) == (unit, what):
            blocks[-1] = last._replace(size=address - last.first + 1)
        else:
            blocks.append(Block(unit, "coil" if what == "coil" else "discrete", address, 1))
    return blocks


def _heed_cancellation() -> None:
    """Raise the cancellation of this task that the library may have lost.

    It waits with `asyncio.wait_for`, which before Python 3.12 hides one that comes with the answer (CPython issue
    86296). A server that stops in that moment would read on for ever.
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _client(address: str, options: ModbusOptions) -> "AsyncModbusTcpClient | AsyncModbusSerialClient":
    """A client that tries once and leaves coming back to the supervisor of the feed."""
    from pymodbus import FramerType  # noqa: PLC0415 - a command that opens no port does not wait for it
    from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient  # noqa: PLC0415

    if is_network(address, ("tcp",)):
        place = urlsplit(address)
        framer = FramerType.RTU if options.rtu else FramerType.SOCKET
        client: AsyncModbusTcpClient | AsyncModbusSerialClient = AsyncModbusTcpClient(
            place.hostname or "", port=place.port or 0, framer=framer, timeout=ANSWER_S, retries=0, reconnect_delay=0
        )
    else:
        client = AsyncModbusSerialClient(
            address,
            baudrate=options.baud,
            parity=options.parity,
            stopbits=options.stop_bits,
            timeout=ANSWER_S + TALK_BITS / options.baud,
            retries=0,
            reconnect_delay=0,
        )
    # It would hang up after three questions without an answer, though other units do answer.
    client.set_max_no_responses(sys.maxsize)
    return client


def _port(table: Table, address: str) -> MakePort:
    poll_s = table.whole("poll_ms", *POLL_MS) / 1000
    network = is_network(address, ("tcp",))
    rtu = table.word("framing", ("rtu", "tcp"), "tcp" if network else "rtu") == "rtu"
    if not network and not rtu:
        table.fault("framing", "'tcp'", "'rtu' on a device")
    parity = _PARITIES[table.word("parity", tuple(_PARITIES), "none")]
    options = ModbusOptions(poll_s, table.whole("baud", *BAUD), parity, table.whole("stop_bits", 1, 1, 2), rtu)
    return lambda places: ModbusPort(address, options, places)


def _place(text: str) -> str | None:
    match = _PLACE.fullmatch(text)
    if match is None:
        return None
    unit, address = int(match[1]), int(match[3])
    return f"{unit}/{match[2]}/{address}" if unit in UNITS and address <= LAST_ADDRESS else None


KIND = Kind(
    name="modbus",
    place=_place,
    places="'1/discrete/0' or '1/coil/0': unit 1 to 247, address 0 to 65535",
    schemes=("tcp",),
    device=True,
    polled=True,
    port=_port,
)
