"""Digital input modules that speak Modbus, behind one port; written from the documents that `modbus_frames` names."""

import asyncio
from typing import Final

from adapters.contacts.modbus_frames import (
    EXCEPTION,
    MOST_BITS,
    READ_COILS,
    READ_DISCRETE_INPUTS,
    Message,
    message_from_rtu,
    rtu_from_message,
    split_tcp,
    tcp_from_message,
)
from adapters.contacts.pretend.listener import Listener, Talk
from adapters.contacts.pretend.wires import Wire

ILLEGAL_FUNCTION: Final = 1
ILLEGAL_ADDRESS: Final = 2
ILLEGAL_VALUE: Final = 3

BROADCAST: Final = 0
"""A request to all units, which none answers (Serial Line, 2.1)."""

SILENCE_S: Final = 0.00175
"""What ends a frame over 19200 baud (Serial Line, 2.5.1.1); at lower speeds it is longer, and nobody minds here."""

_REQUEST_BYTES: Final = 5

Levels = dict[tuple[int, int], bool]


class Modules:
    """Units of `size` discrete inputs and as many coils each: `inputs` and `coils`, by unit and address.

    Those in `deaf` do not answer, those in `failing` answer with that exception. A unit that is not there is silent,
    or answered for with the exception `absent`, as some gateways do. With `sampling_ms` over 0 the levels are taken
    over only so often: what changes in between is told at the next tick.
    """

    def __init__(self, *units: int, size: int = 16, absent: int | None = None, sampling_ms: int = 0) -> None:
        self.inputs: Levels = {(unit, n): False for unit in units for n in range(size)}
        self.coils: Levels = dict(self.inputs)
        self.deaf: set[int] = set()
        self.failing: dict[int, int] = {}
        self.sampling_ms = sampling_ms
        self._units = units
        self._size = size
        self._absent = absent
        self._sampled: dict[int, Levels] | None = None
        self._tick: asyncio.TimerHandle | None = None
        self._wire: Wire | None = None
        self._listener = Listener(lambda: _TcpTalk(self))

    @property
    def number(self) -> int:
        """The TCP port, 0 before it was first started."""
        return self._listener.number

    async def start_tcp(self) -> None:
        """Serve over TCP, on the port it had before if it had one."""
        self._begin()
        await self._listener.start()

    def attach(self, wire: Wire, baud: int | None = None) -> None:
        """Serve at the end of a serial line; with a `baud`, only a port that is set to it is understood."""
        self._begin()
        self._wire = wire
        wire.heard = _SerialTalk(self, wire, baud).heard

    async def kill(self) -> None:
        """Serve no more."""
        if self._tick is not None:
            self._tick.cancel()
            self._tick = None
        if self._wire is not None:
            self._wire.heard = None
            self._wire = None
        await self._listener.kill()

    def send_bytes(self, data: bytes) -> None:
        """Whatever it is, to everybody that is connected."""
        if self._wire is not None:
            self._wire.send(data)
        for talk in self._listener.talks:
            talk.write(data)

    def answer(self, unit: int, request: bytes) -> bytes | None:
        """What a unit answers to the PDU of a request; None where it does not (Application Protocol, 6 and 7)."""
        if unit == BROADCAST or unit in self.deaf or not request:
            return None
        if unit not in self._units:
            return None if self._absent is None else _exception(request, self._absent)
        code = self.failing.get(unit) or self._fault_of(request)
        return self._bits(unit, request) if code is None else _exception(request, code)

    def _fault_of(self, request: bytes) -> int | None:
        if request[0] not in {READ_COILS, READ_DISCRETE_INPUTS}:
            return ILLEGAL_FUNCTION
        first, count = _span(request)
        if len(request) != _REQUEST_BYTES or not 1 <= count <= MOST_BITS:
            return ILLEGAL_VALUE
        return None if first + count <= self._size else ILLEGAL_ADDRESS

    def _bits(self, unit: int, request: bytes) -> bytes:
        levels = (self._sampled or self._now())[request[0]]
        first, count = _span(request)
        packed = sum(levels[unit, first + n] << n for n in range(count)).to_bytes((count + 7) // 8, "little")
        return bytes([request[0], len(packed)]) + packed

    def _now(self) -> dict[int, Levels]:
        return {READ_COILS: self.coils, READ_DISCRETE_INPUTS: self.inputs}

    def _begin(self) -> None:
        if self.sampling_ms and self._tick is None:
            self._sample()

    def _sample(self) -> None:
        self._sampled = {function: dict(levels) for function, levels in self._now().items()}
        self._tick = asyncio.get_running_loop().call_later(self.sampling_ms / 1000, self._sample)


class _SerialTalk:
    """One serial line: a silence ends a frame (Serial Line, 2.5.1.1), and a damaged one is not answered."""

    def __init__(self, modules: Modules, wire: Wire, baud: int | None) -> None:
        self._modules = modules
        self._wire = wire
        self._baud = baud
        self._frame = b""
        self._ends: asyncio.TimerHandle | None = None

    def heard(self, data: bytes) -> None:
        self._frame += data
        if self._ends is not None:
            self._ends.cancel()
        self._ends = asyncio.get_running_loop().call_later(SILENCE_S, self._ended)

    def _ended(self) -> None:
        frame, self._frame = self._frame, b""
        asked = message_from_rtu(frame)
        if asked is None or self._baud not in {None, self._wire.baud}:
            return
        pdu = self._modules.answer(asked.unit, asked.pdu)
        if pdu is not None:
            self._wire.send(rtu_from_message(Message(asked.unit, pdu)))


class _TcpTalk(Talk):
    """One connection over TCP."""

    def __init__(self, modules: Modules) -> None:
        super().__init__()
        self._modules = modules
        self._held = b""

    def data_received(self, data: bytes) -> None:
        try:
            messages, self._held = split_tcp(self._held + data)
        except ValueError:
            self.drop()
            return
        for asked in messages:
            pdu = self._modules.answer(asked.unit, asked.pdu)
            if pdu is not None:
                self.write(tcp_from_message(asked._replace(pdu=pdu)))


def _span(request: bytes) -> tuple[int, int]:
    """The first address of a request, and how many."""
    return int.from_bytes(request[1:3], "big"), int.from_bytes(request[3:5], "big")


def _exception(request: bytes, code: int) -> bytes:
    return bytes([request[0] | EXCEPTION, code])
