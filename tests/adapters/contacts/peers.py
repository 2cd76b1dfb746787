"""Real peers for the ports: a box on a pseudo-terminal, a gateway with modem lines, Modbus servers."""

import asyncio
import contextlib
import os
import tty
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from pymodbus import FramerType
from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice
from serial import rfc2217
from serial.urlhandler.protocol_loop import Serial as LoopSerial

from adapters.contacts.lines import Line, text_from_line

PATIENCE_S = 8.0
HOST = "127.0.0.1"


async def until(true: Callable[[], bool]) -> None:
    """Let the peers get on with it until something has come true."""
    async with asyncio.timeout(PATIENCE_S):
        while not true():  # noqa: ASYNC110 - a peer sets no event of ours
            await asyncio.sleep(0.002)


class TextBox:
    """A box that sends lines, at an address that stays the same when it is unplugged and plugged in again."""

    def __init__(self, folder: Path, inputs: int = 5) -> None:
        self.address = folder / "box"
        self.levels: dict[int, bool | None] = dict.fromkeys(range(1, inputs + 1), False)
        self._seq = -1
        self._master: int | None = None

    def plug(self) -> None:
        """Switched on: the first line has the number 0."""
        self._master, slave = os.openpty()
        os.set_blocking(self._master, False)
        tty.setraw(slave)
        self.address.unlink(missing_ok=True)
        self.address.symlink_to(os.ttyname(slave))
        os.close(slave)
        self._seq = -1

    def unplug(self) -> None:
        if self._master is not None:
            os.close(self._master)
            self._master = None
            self.address.unlink()

    def all_levels(self) -> None:
        self.send(Line(self._next(), dict(self.levels), True))

    def change(self, number: int, closed: bool) -> None:
        self.levels[number] = closed
        self.send(Line(self._next(), {number: closed}, False))

    def lose(self, number: int, closed: bool) -> None:
        """A change whose line never comes."""
        self.levels[number] = closed
        self._next()

    def send(self, line: Line) -> None:
        self.send_bytes(text_from_line(line).encode() + b"\n")

    def send_bytes(self, data: bytes) -> None:
        """Down the wire, whether anybody listens or not."""
        assert self._master is not None
        with contextlib.suppress(BlockingIOError):
            os.write(self._master, data)

    def _next(self) -> int:
        self._seq = (self._seq + 1) if self._seq < 65_535 else 1
        return self._seq


class LinesPort(LoopSerial):  # type: ignore[misc] # pyserial is not typed
    """pyserial's loop-back port, with modem lines that a test sets."""

    def __init__(self) -> None:
        self.lines = {"cts": False, "dsr": False, "cd": False, "ri": False}
        super().__init__("loop://", timeout=0)

    cts = property(lambda self: self.lines["cts"])
    dsr = property(lambda self: self.lines["dsr"])
    cd = property(lambda self: self.lines["cd"])
    ri = property(lambda self: self.lines["ri"])


class Manager(rfc2217.PortManager):  # type: ignore[misc] # as above
    """pyserial's RFC 2217 server, which acknowledges the masks that the client waits for (RFC 2217, 3)."""

    def _telnet_process_subnegotiation(self, suboption: bytes) -> None:
        super()._telnet_process_subnegotiation(suboption)
        for asked, answer in (
            (rfc2217.SET_MODEMSTATE_MASK, rfc2217.SERVER_SET_MODEMSTATE_MASK),
            (rfc2217.SET_LINESTATE_MASK, rfc2217.SERVER_SET_LINESTATE_MASK),
        ):
            if suboption[:2] == rfc2217.COM_PORT_OPTION + asked:
                self.rfc2217_send_subnegotiation(answer, suboption[2:3])


class Gateway:
    """A gateway to a serial port, over RFC 2217. A `stalled` one keeps its connections and says nothing."""

    def __init__(self) -> None:
        self.port = LinesPort()
        self.stalled = False
        self.number = 0
        self._server: asyncio.Server | None = None
        self._talks: set[_Talk] = set()

    @property
    def address(self) -> str:
        return f"rfc2217://{HOST}:{self.number}"

    async def start(self) -> None:
        """Serve on the port it had before, if it had one."""
        loop = asyncio.get_running_loop()
        self._server = await loop.create_server(lambda: _Talk(self), HOST, self.number)
        self.number = self._server.sockets[0].getsockname()[1]

    async def kill(self) -> None:
        """Drop every connection, and take no new one."""
        if self._server is not None:
            self._server.close()
            for talk in list(self._talks):
                talk.drop()
            await self._server.wait_closed()
            self._server = None

    def set_line(self, name: str, closed: bool) -> None:
        self.port.lines[name] = closed
        if not self.stalled:
            for talk in self._talks:
                talk.manager.check_modem_lines()


class _Talk(asyncio.Protocol):
    """One connection to the gateway."""

    def __init__(self, gateway: Gateway) -> None:
        self._gateway = gateway

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        self._gateway._talks.add(self)
        self.manager = Manager(self._gateway.port, self)

    def write(self, data: bytes) -> None:
        if not self._gateway.stalled:
            self._transport.write(bytes(data))

    def data_received(self, data: bytes) -> None:
        if not self._gateway.stalled:
            list(self.manager.filter(data))

    def connection_lost(self, exc: Exception | None) -> None:
        self._gateway._talks.discard(self)

    def drop(self) -> None:
        self._transport.abort()


class Modules:
    """Modules with 16 discrete inputs and 16 coils each, by unit id.

    Those in `deaf` do not answer, those in `failing` answer with that exception.
    """

    def __init__(self, *units: int) -> None:
        self.inputs = {(unit, n): False for unit in units for n in range(16)}
        self.coils = {(unit, n): False for unit in units for n in range(16)}
        self.number = 0
        self._units = units
        self.deaf: set[int] = set()
        self.failing: dict[int, int] = {}
        self._server: ModbusTcpServer | ModbusSerialServer | None = None

    async def start_tcp(self) -> None:
        """Serve over TCP, on the port it had before if it had one."""
        self._server = ModbusTcpServer(self._devices(), address=(HOST, self.number), ignore_missing_devices=True)
        await self._server.serve_forever(background=True)
        listening: Any = self._server.transport
        self.number = listening.sockets[0].getsockname()[1]

    async def start_rtu(self, port: str) -> None:
        """Serve over a serial port."""
        self._server = ModbusSerialServer(
            self._devices(), port=port, framer=FramerType.RTU, baudrate=115_200, ignore_missing_devices=True
        )
        await self._server.serve_forever(background=True)

    async def kill(self) -> None:
        if self._server is not None:
            await self._server.shutdown()  # type: ignore[no-untyped-call] # pymodbus leaves it so
            self._server = None

    def _devices(self) -> list[SimDevice]:
        return [self._device(unit) for unit in self._units]

    def _device(self, unit: int) -> SimDevice:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS)]
        registers = [SimData(0, values=0, datatype=DataType.REGISTERS)]

        async def answer(
            code: int, _start: int, _address: int, _count: int, block: list[int], _values: Any
        ) -> ExcCodes | None:
            if unit in self.deaf:
                await asyncio.sleep(PATIENCE_S)
            if unit in self.failing:
                return ExcCodes(self.failing[unit])
            levels = self.coils if code == 1 else self.inputs
            block[0] = sum(levels[unit, n] << n for n in range(16))
            return None

        return SimDevice(unit, simdata=(bits, bits, registers, registers), action=answer)


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
        os.write(sink, os.read(source, 4096))
