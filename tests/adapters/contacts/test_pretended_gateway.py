"""The pretended serial server against the bytes of RFC 854, 856 and 2217, and against our own ports."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from adapters.contacts.pretend.com_port import ComPort, ComPortSession
from adapters.contacts.pretend.gateway import Gateway
from adapters.contacts.pretend.listener import HOST
from adapters.contacts.serial_port import SerialPort
from tests.adapters.contacts.peers import PATIENCE_S, until

# RFC 854: IAC 255, WILL 251, WONT 252, DO 253, DONT 254, SB 250, SE 240. RFC 2217: COM-PORT-OPTION 44.
WILL_COM_PORT = bytes([255, 251, 44])
DO_COM_PORT = bytes([255, 253, 44])


def com_port(*octets: int) -> bytes:
    """A command as it goes over the wire: an octet of 255 in it is doubled (RFC 855)."""
    return bytes([255, 250, 44]) + bytes(octets).replace(b"\xff", b"\xff\xff") + bytes([255, 240])


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        (WILL_COM_PORT, DO_COM_PORT),
        (bytes([255, 251, 0]), bytes([255, 253, 0])),  # WILL binary, DO binary
        (bytes([255, 253, 0]), bytes([255, 251, 0])),  # DO binary, WILL binary
        (bytes([255, 253, 3]), bytes([255, 251, 3])),  # suppress go-ahead
        (bytes([255, 253, 1]), bytes([255, 252, 1])),  # DO echo, WONT echo
        (bytes([255, 251, 24]), bytes([255, 254, 24])),  # WILL terminal type, DONT
        (bytes([255, 252, 0]), b""),  # WONT what is not so: nothing changes
        (bytes([255, 253, 44]), bytes([255, 252, 44])),  # the com port is the client's to offer
        (bytes([255, 241]), b""),  # no operation
    ],
)
def test_options_are_agreed_to_as_far_as_they_are_known(asked: bytes, answered: bytes) -> None:
    """RFC 854: what is asked is answered once, and what is so already is not."""
    session = ComPortSession(ComPort())
    assert session.feed(asked) == (b"", answered)
    if answered[1:2] in {b"\xfb", b"\xfd"}:
        assert session.feed(asked) == (b"", b"")


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        ((1, 0, 0, 0, 0), (101, 0, 0, 0x25, 0x80)),  # which speed: 9600
        ((1, 0, 1, 0xC2, 0), (101, 0, 1, 0xC2, 0)),  # 115200
        ((1, 0, 0, 0, 1), (101, 0, 0, 0x25, 0x80)),  # one that there is not: the speed it has
        ((2, 0), (102, 8)),
        ((2, 7), (102, 7)),
        ((3, 3), (103, 3)),  # even
        ((3, 9), (103, 1)),
        ((4, 2), (104, 2)),
        ((5, 0), (105, 1)),  # which flow control: none
        ((5, 3), (105, 3)),
        ((5, 4), (105, 6)),  # break: off
        ((5, 7), (105, 8)),  # DTR: on
        ((5, 9), (105, 9)),
        ((5, 10), (105, 11)),  # RTS: on
        ((5, 13), (105, 14)),
        ((12, 3), (112, 3)),
    ],
)
def test_a_setting_is_answered_with_what_it_is_now(asked: tuple[int, ...], answered: tuple[int, ...]) -> None:
    """RFC 2217, 2 and 3: the answer's number is 100 more; a value that there is not changes nothing."""
    assert ComPortSession(ComPort()).feed(com_port(*asked)) == (b"", com_port(*answered))


def test_a_signature_is_asked_for_or_told() -> None:
    """Without a text it asks for the server's."""
    session = ComPortSession(ComPort())
    assert session.feed(com_port(0, *b"a client")).client == b""
    assert session.feed(com_port(0)).client.startswith(bytes([255, 250, 44, 100]) + b"pretended")


def test_bytes_of_the_line_pass_both_ways_whatever_they_are() -> None:
    """RFC 854: an octet of 255 goes doubled; commands in between are taken out, however the stream is cut."""
    session = ComPortSession(ComPort())
    stream = b"ab\xff\xffc" + com_port(1, 0, 0, 255, 0) + b"\xff\xf1d"
    whole = ComPortSession(ComPort()).feed(stream)
    pieces = [session.feed(bytes([octet])) for octet in stream]
    assert whole == (b"ab\xffcd", com_port(101, 0, 0, 255, 0))
    assert (b"".join(each.line for each in pieces), b"".join(each.client for each in pieces)) == whole
    assert session.data(b"\x00\xff\r") == b"\x00\xff\xff\r"


def test_the_modem_state_has_the_lines_and_what_changed() -> None:
    """RFC 2217, 3: CD 128, RI 64, DSR 32, CTS 16; each's change four bits lower, of RI only its end."""
    port = ComPort()
    told = []
    for line, level in (("cts", True), ("dsr", True), ("ri", True), ("ri", False), ("cd", True), ("cts", False)):
        port.lines[line] = level
        told.append(port.look())
    assert told == [0x11, 0x32, 0x70, 0x34, 0xB8, 0xA1]
    assert port.look() is None


def test_a_mask_lets_through_what_it_names() -> None:
    """RFC 2217, 3: the state and the mask together; where nothing is left nothing is told, and 255 is the first."""
    session = ComPortSession(ComPort())
    assert session.modem_state(0x11) == com_port(107, 0x11)
    session.feed(com_port(11, 0xF0))
    assert session.modem_state(0x11) == com_port(107, 0x10)
    assert session.modem_state(0x01) == b""
    session.feed(com_port(11, 0))
    assert session.modem_state(0xB8) == b""


@pytest.mark.parametrize("acknowledges", [True, False])
def test_a_mask_is_acknowledged_or_answered_by_the_modem_state_alone(acknowledges: bool) -> None:
    """Serial servers differ, and the RFC does not ask for either."""
    port = ComPort()
    port.lines["dsr"] = True
    port.look()
    session = ComPortSession(port, acknowledges_masks=acknowledges)
    acknowledged = com_port(111, 255) if acknowledges else b""
    assert session.feed(com_port(11, 255)).client == acknowledged + com_port(107, 0x20)
    assert session.feed(com_port(10, 0)).client == (com_port(110, 0) if acknowledges else b"")


def test_a_client_that_asks_to_wait_is_told_nothing_until_it_says_so() -> None:
    """RFC 2217, 5: neither data nor commands; then all of them, in their order."""
    session = ComPortSession(ComPort())
    assert session.feed(com_port(8)) == (b"", b"")
    assert session.data(b"one") == b""
    assert session.modem_state(0x11) == b""
    assert session.feed(com_port(9)).client == b"one" + com_port(107, 0x11)


@asynccontextmanager
async def connected(gateway: Gateway) -> AsyncIterator[tuple[asyncio.StreamReader, asyncio.StreamWriter]]:
    await gateway.start()
    reader, writer = await asyncio.open_connection(HOST, gateway.number)
    async with asyncio.timeout(PATIENCE_S):
        yield reader, writer
    writer.close()
    await gateway.kill()


async def test_a_plain_one_carries_bytes_and_nothing_else() -> None:
    """What is a Telnet command elsewhere is two bytes here."""
    gateway = Gateway(plain=True)
    heard = bytearray()
    gateway.heard = heard.extend
    async with connected(gateway) as (reader, writer):
        writer.write(b"\xff\xfb,ask")
        await until(lambda: len(heard) == 6)
        gateway.send(b"\xffanswer")
        gateway.set_line("cts", True)
        gateway.send(b".")
        assert (await reader.readexactly(8), bytes(heard)) == (b"\xffanswer.", b"\xff\xfb,ask")


async def test_a_change_of_a_line_is_told_at_once() -> None:
    """To a client that is connected; one that a stalled server has is told nothing."""
    gateway = Gateway()
    async with connected(gateway) as (reader, writer):
        writer.write(com_port(11, 255))
        told = com_port(111, 255) + com_port(107, 0)
        assert await reader.readexactly(len(told)) == told
        gateway.stalled = True
        gateway.set_line("cd", True)
        gateway.stalled = False
        gateway.set_line("cts", True)
        assert await reader.readexactly(7) == com_port(107, 0x91)


async def test_with_a_tick_of_its_own_a_change_is_told_at_the_tick() -> None:
    """What went and came back within one tick is told to nobody."""
    gateway = Gateway(sampling_ms=50)
    async with connected(gateway) as (reader, writer):
        writer.write(com_port(11, 255))
        told = com_port(111, 255) + com_port(107, 0)
        await reader.readexactly(len(told))
        gateway.set_line("cts", True)
        gateway.set_line("cts", False)
        gateway.set_line("dsr", True)
        assert await reader.readexactly(7) == com_port(107, 0x22)


async def test_our_port_hears_the_bytes_behind_it_and_sets_its_speed() -> None:
    """Over RFC 2217 an octet of 255 is one again when it arrives, and the speed is the one that was asked for."""
    gateway = Gateway()
    await gateway.start()
    port = SerialPort(gateway.address, 19_200)
    async with asyncio.timeout(PATIENCE_S):
        await port.open()
        assert gateway.baud == 19_200
        gateway.send(b"C 1\xff\n")
        assert await port.read() == b"C 1\xff\n"
        gateway.set_line("ri", True)
        await port.confirm()
        assert (await port.pins()).rng.to_bool() is True
        await gateway.kill()
    await port.close()
