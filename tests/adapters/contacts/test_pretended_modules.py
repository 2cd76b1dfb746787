"""Pretended modules against the bytes of the Modbus documents, and against our own port."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from adapters.contacts import modbus_frames
from adapters.contacts.modbus_frames import Message
from adapters.contacts.pretend.gateway import Gateway
from adapters.contacts.pretend.modules import SILENCE_S, Modules
from adapters.contacts.pretend.wires import Heard, Terminal
from tests.adapters.contacts.peers import PATIENCE_S, until
from tests.adapters.contacts.wired import wiring

# MODBUS Application Protocol Specification 1.1b3, from memory: the examples of 6.1, 6.2 and 7.
COILS = bytes.fromhex("01 0013 0013"), bytes.fromhex("01 03 CD 6B 05")
INPUTS = bytes.fromhex("02 00C4 0016"), bytes.fromhex("02 03 AC DB 35")
NO_SUCH_COIL = bytes.fromhex("01 04A1 0001"), bytes.fromhex("81 02")


def example() -> Modules:
    """One unit with the levels of the examples: coils 20 to 38 and discrete inputs 197 to 218, counted from 1."""
    modules = Modules(1, size=256)
    for first, levels, packed in ((0x13, modules.coils, "CD6B05"), (0xC4, modules.inputs, "ACDB35")):
        bits = int.from_bytes(bytes.fromhex(packed), "little")
        levels.update({(1, first + n): bool(bits >> n & 1) for n in range(24)})
    return modules


class Ended:
    """The end of a serial line: what is sent by the part that stands at it, and the part's ears."""

    def __init__(self, baud: int | None = None) -> None:
        self.heard: Heard | None = None
        self.sent = b""
        self.baud = baud

    def send(self, data: bytes) -> None:
        self.sent += data

    async def ask(self, frame: bytes) -> bytes:
        """What comes of a frame once the line has been silent for long enough; it began to wait before this does."""
        assert self.heard is not None
        self.sent = b""
        self.heard(frame)
        silent = asyncio.Event()
        asyncio.get_running_loop().call_later(SILENCE_S, silent.set)
        await silent.wait()
        return self.sent


@pytest.mark.parametrize(("asked", "answered"), [COILS, INPUTS, NO_SUCH_COIL], ids=["coils", "inputs", "exception"])
def test_a_request_of_the_specification_has_the_answer_that_stands_beside_it(asked: bytes, answered: bytes) -> None:
    """Bits are packed lowest first, the rest of the last byte is 0; an address that is not there is exception 2."""
    assert example().answer(1, asked) == answered


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        ("01 0000 0000", "81 03"),  # none, of 1 to 2000
        ("02 0000 07D1", "82 03"),  # 2001
        ("02 0000", "82 03"),
        ("02 00FF 0002", "82 02"),  # the last, and one past it
        ("02 00FF 0001", "02 01 00"),
        ("03 0000 0001", "83 01"),  # holding registers
        ("05 0000 FF00", "85 01"),  # nothing is ever written
    ],
)
def test_what_cannot_be_answered_is_an_exception(asked: str, answered: str) -> None:
    """In the order of the specification: the function, then how many, then which."""
    assert example().answer(1, bytes.fromhex(asked)) == bytes.fromhex(answered)


def test_units_that_are_deaf_failing_or_not_there() -> None:
    """Silent, an exception whatever was asked, silent; nobody answers what is meant for all."""
    modules = Modules(1, 2, 3)
    modules.deaf.add(1)
    modules.failing[2] = 6
    answers = [modules.answer(unit, bytes.fromhex("02 0000 0001")) for unit in range(5)]
    assert answers == [None, None, b"\x82\x06", b"\x02\x01\x00", None]
    assert Modules(1, absent=11).answer(9, bytes.fromhex("02 0000 0001")) == b"\x82\x0b"


def test_a_frame_has_the_check_of_the_specification() -> None:
    """MODBUS over Serial Line 1.02, 6.2.2: the frame 02 07 has the check 1241, sent low byte first."""
    assert modbus_frames.crc_of(b"\x02\x07") == 0x1241
    assert modbus_frames.rtu_from_message(Message(2, b"\x07")) == bytes.fromhex("02 07 41 12")
    assert modbus_frames.message_from_rtu(bytes.fromhex("02 07 41 12")) == Message(2, b"\x07")
    assert modbus_frames.message_from_rtu(bytes.fromhex("02 07 41 13")) is None
    assert modbus_frames.message_from_rtu(b"\x02") is None


def test_frames_over_tcp_are_cut_by_their_header() -> None:
    """Two at once and a piece of a third; another protocol's is left out; what is none at all ends the connection."""
    frame = modbus_frames.tcp_from_message(Message(0x11, COILS[0], 0x1501))
    assert frame == bytes.fromhex("1501 0000 0006 11 01 0013 0013")
    foreign = frame[:2] + b"\x00\x01" + frame[4:]
    messages, left = modbus_frames.split_tcp(frame + foreign + frame + frame[:9])
    assert messages == [Message(0x11, COILS[0], 0x1501)] * 2
    assert left == frame[:9]
    with pytest.raises(ValueError, match="found a length of 65535"):
        modbus_frames.split_tcp(b"\xff" * 7)


async def test_a_damaged_frame_is_not_answered_and_the_next_one_is() -> None:
    """A silence ends a frame: noise before it is not taken for its beginning."""
    line, modules = Ended(), example()
    modules.attach(line)
    frame = modbus_frames.rtu_from_message(Message(1, COILS[0]))
    assert await line.ask(frame[:-1] + b"\x00") == b""
    assert await line.ask(b"\xff\x00") == b""
    assert await line.ask(frame) == modbus_frames.rtu_from_message(Message(1, COILS[1]))
    await modules.kill()


async def test_a_port_that_is_set_to_another_speed_is_not_understood() -> None:
    """Where the modules are set to 19200 baud, nothing else is a frame to them."""
    modules = Modules(1)
    for baud, heard in ((9600, False), (19_200, True)):
        line = Ended(baud)
        modules.attach(line, baud=19_200)
        assert bool(await line.ask(modbus_frames.rtu_from_message(Message(1, b"\x02\0\0\0\1")))) is heard
    await modules.kill()


async def test_a_change_is_told_at_the_next_tick_of_the_modules_own() -> None:
    """Levels are taken over only every so often, whenever they are asked for."""
    modules = Modules(1, sampling_ms=40)
    asked = b"\x02\0\0\0\1"
    modules.attach(Ended())
    modules.inputs[1, 0] = True
    assert modules.answer(1, asked) == b"\x02\x01\x00"
    await until(lambda: modules.answer(1, asked) == b"\x02\x01\x01")
    modules.inputs[1, 0] = False
    assert modules.answer(1, asked) == b"\x02\x01\x01"
    await modules.kill()


@asynccontextmanager
async def served(way: str, folder: Path) -> AsyncIterator[tuple[Modules, str]]:
    """Modules behind a port of one kind, and the lines of a feed that name it."""
    modules = Modules(1, 2)
    gateway, terminal = Gateway(plain=True), Terminal(folder / "line")
    if way == "tcp":
        await modules.start_tcp()
        feed = f'port = "tcp://127.0.0.1:{modules.number}"'
    elif way == "rtu over tcp":
        modules.attach(gateway)
        await gateway.start()
        feed = f'port = "tcp://127.0.0.1:{gateway.number}"\nframing = "rtu"'
    else:
        modules.attach(terminal)
        terminal.plug()
        feed = f'port = "{terminal.name}"\nbaud = 19200'
    yield modules, f'id = "north"\nkind = "modbus"\n{feed}\npoll_ms = 20'
    await modules.kill()
    await gateway.kill()
    terminal.unplug()


class Kept:
    """Whoever hears of a port's readings: the last level of each place, and what fell silent."""

    def __init__(self) -> None:
        self.levels: dict[str, bool | None] = {}
        self.silent: dict[str, str | None] = {}

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        self.levels[place] = closed

    def tell(self, text: str, now_us: int, times: int = 1) -> None: ...

    def silence(self, part: str, text: str | None, now_us: int) -> None:
        self.silent[part] = text

    def due_us(self) -> int | None:
        return None


@pytest.mark.parametrize("way", ["tcp", "rtu over tcp", "rtu"])
async def test_our_port_reads_the_pretended_modules(way: str, tmp_path: Path) -> None:
    """Over TCP, over a serial line, and over a serial line behind a plain serial server."""
    places = ["1/discrete/3", "2/coil/9"]
    async with served(way, tmp_path) as (modules, feed), asyncio.timeout(PATIENCE_S):
        port = wiring(feed, [(places[0], "s0", "motor"), (places[1], "s0", "lamp")]).feeds[0].make_port(places)
        kept = Kept()
        await port.open()
        now = asyncio.get_running_loop().time
        reading = asyncio.create_task(port.run(kept, lambda: round(now() * 1e6)))
        await until(lambda: kept.levels.get(places[1]) is False)
        modules.inputs[1, 3] = True
        await until(lambda: kept.levels[places[0]] is True)
        modules.coils[2, 9] = True
        await until(lambda: kept.levels[places[1]] is True)
        reading.cancel()
        await asyncio.gather(reading, return_exceptions=True)
        await port.close()
