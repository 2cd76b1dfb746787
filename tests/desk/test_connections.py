"""Who may hold connections, and for how long without saying what they want: over a real port, with and without TLS."""

import asyncio
import logging
import os
import ssl
import struct
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest

from server.access.certificates import Made, make_certificate
from server.desk import connections
from server.desk.connections import Crowd, Seat, network_of
from server.desk.tls import site_certificate
from tests.desk.service import PATIENCE_S, Service, heard, serving
from tests.desk.test_visits import elsewhere, paired


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """One certificate for all tests."""
    return make_certificate(tmp_path_factory.mktemp("tls"), ["localhost", "127.0.0.1"], datetime.now(UTC))


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """All are counted, this computer too, and there are three at most."""
    monkeypatch.setattr(connections, "CONNECTIONS", 3)
    monkeypatch.setattr(connections, "is_loopback", lambda _address: False)


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """What takes ten seconds takes a fifth of one."""
    monkeypatch.setattr(connections, "PATIENCE_S", 0.2)


@pytest.fixture
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Enough for those who do go on, on a busy computer."""
    monkeypatch.setattr(connections, "PATIENCE_S", 2.0)


class Silent:
    """A connection that somebody opened."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader = reader
        self.writer = writer

    async def is_dropped(self) -> bytes:
        """What came until the server let it go; TimeoutError where it does not."""
        async with asyncio.timeout(PATIENCE_S):
            with suppress(ConnectionResetError):
                return await self.reader.read()
        return b""


@asynccontextmanager
async def opened(service: Service, says: bytes = b"", tls: ssl.SSLContext | None = None) -> AsyncIterator[Silent]:
    reader, writer = await asyncio.open_connection("127.0.0.1", service.number, ssl=tls)
    writer.write(says)
    try:
        yield Silent(reader, writer)
    finally:
        writer.transport.abort()


async def test_handshakes_that_are_never_made_lock_nobody_out(tmp_path: Path, made: Made, counted: None) -> None:
    """By TLS more connections than may be are held without a word: the oldest go, and whoever comes is served."""
    trusting = ssl.create_default_context(cafile=made.issuer)
    tls = site_certificate(made.certificate, made.key).context
    async with serving(tmp_path, "one", tls=tls) as service, AsyncExitStack() as stack:
        silent = [await stack.enter_async_context(opened(service)) for _ in range(4)]
        await silent[0].is_dropped()
        async with service.desk(trusting=trusting) as desk:
            await heard(desk, "snapshot")
            await silent[1].is_dropped()
            held = [await stack.enter_async_context(opened(service)) for _ in range(3)]
            await held[0].is_dropped()
            await heard(desk, "beat")


async def test_devices_that_were_let_in_keep_their_connections(tmp_path: Path, counted: None) -> None:
    """Strangers of the same network make room for each other, never a paired device for a stranger."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service, AsyncExitStack() as stack:
        _, cookie = await paired(service)
        desks = [await stack.enter_async_context(service.desk(cookie=cookie)) for _ in range(2)]
        for desk in desks:
            await heard(desk, "snapshot")
        strangers = [await stack.enter_async_context(opened(service)) for _ in range(3)]
        for stranger in strangers[:2]:
            await stranger.is_dropped()
        third = await stack.enter_async_context(service.desk(cookie=cookie))
        await heard(third, "snapshot")
        await strangers[2].is_dropped()
        async with opened(service) as one_more:
            assert await one_more.is_dropped() == b""
        for desk in desks:
            await heard(desk, "beat")


async def test_a_handshake_has_its_time(tmp_path: Path, made: Made, impatient: None) -> None:
    """A connection without one is closed, as is one that stops in the middle of it."""
    tls = site_certificate(made.certificate, made.key).context
    async with serving(tmp_path, "one", tls=tls) as service:
        for says in (b"", b"\x16\x03\x01"):
            async with opened(service, says) as silent:
                await silent.is_dropped()


@pytest.mark.parametrize(
    "says",
    [
        b"",
        b"GET",
        b"GET /api/me HTTP/1.1\r\nHost: localhost\r\n",
        b"POST /api/pairing HTTP/1.1\r\nHost: localhost\r\nContent-Length: 40\r\n\r\n{",
        b"POST /api/pairing HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n4\r\n{",
        b"GET /api/live HTTP/1.1\r\nHost: localhost\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n",
    ],
)
@pytest.mark.parametrize("private", [False, True])
async def test_half_a_request_has_its_time(
    tmp_path: Path, made: Made, impatient: None, monkeypatch: pytest.MonkeyPatch, says: bytes, private: bool
) -> None:
    """Nothing, half a head, half a body: whoever does not go on is dropped, by TLS too."""
    monkeypatch.setattr(connections, "LEAST_BYTES_PER_S", 1_000_000_000)
    tls = site_certificate(made.certificate, made.key).context if private else None
    trusting = ssl.create_default_context(cafile=made.issuer) if private else None
    async with serving(tmp_path, "one", tls=tls) as service, opened(service, says, trusting) as silent:
        await silent.is_dropped()


async def test_a_line_end_after_an_answer_is_half_a_request(tmp_path: Path, impatient: None) -> None:
    """It ends the web server's own waiting for the next request, and begins none."""
    request = b"GET /api/me HTTP/1.1\r\nHost: localhost\r\n\r\n"
    async with serving(tmp_path, "one") as service, opened(service, request) as asking:
        async with asyncio.timeout(PATIENCE_S):
            assert (await asking.reader.readline()).startswith(b"HTTP/1.1 200")
        asking.writer.write(b"\r\n")
        await asking.is_dropped()


async def test_what_comes_in_time_is_served(tmp_path: Path, made: Made) -> None:
    """A request in pieces, its body with them, over one connection that is used again; by TLS, in one piece."""
    body = b'{"code": "wrong"}'
    head = (
        b"POST /api/pairing HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 17\r\n\r\n"
    )
    async with serving(tmp_path, "one") as service, opened(service) as asking:
        length = 0
        for _ in range(2):
            for piece in (head[:20], head[20:], body[:5], body[5:]):
                asking.writer.write(piece)
                await asyncio.sleep(0)
            async with asyncio.timeout(PATIENCE_S):
                assert (await asking.reader.readline()).startswith(b"HTTP/1.1 4")
                while (line := await asking.reader.readline()) != b"\r\n":
                    if line.lower().startswith(b"content-length:"):
                        length = int(line.split(b":")[1])
                await asking.reader.readexactly(length)
    trusting = ssl.create_default_context(cafile=made.issuer)
    tls = site_certificate(made.certificate, made.key).context
    client = httpx.AsyncClient(verify=trusting, trust_env=False)
    async with serving(tmp_path, "one", tls=tls) as service, client as device:
        for _ in range(2):
            assert (await device.get(f"https://{service.host}/api/me")).status_code == 200


@pytest.mark.parametrize("data", [b"\xff", b"\xc3\x28", b"ok\xe2\x82"])
async def test_a_text_that_is_no_utf8_closes_the_websocket(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, data: bytes
) -> None:
    """1007, as RFC 6455 has it, without a word in the log, and the run goes on."""
    async with serving(tmp_path, "one") as service, opened(service) as desk:
        desk.writer.write(
            b"GET /api/runs/one/live HTTP/1.1\r\nHost: localhost\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            b"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
        )
        async with asyncio.timeout(PATIENCE_S):
            await desk.reader.readuntil(b"\r\n\r\n")
        with caplog.at_level(logging.WARNING):
            desk.writer.write(bytes([0x81, 0x80 | len(data)]) + bytes(4) + data)
            came = await desk.is_dropped()
        assert struct.pack("!H", 1007) in came
        assert caplog.records == []
        async with service.desk() as other:
            await heard(other, "snapshot")


@pytest.mark.parametrize(
    ("host", "network"),
    [
        ("192.0.2.20", "192.0.2.20"),
        ("::ffff:192.0.2.20", "192.0.2.20"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("a name", "a name"),
    ],
)
def test_what_is_counted_as_one(host: str, network: str) -> None:
    """An IPv6 device has 2^64 addresses of its own choosing: its network is counted."""
    assert network_of(host) == network


def test_addresses_of_one_ipv6_network_are_one_crowd(monkeypatch: pytest.MonkeyPatch) -> None:
    """With as many addresses as it likes one device has no more connections; another network has its own."""
    monkeypatch.setattr(connections, "CONNECTIONS", 2)
    crowd = Crowd()
    cut: list[str] = []

    def come(host: str) -> Seat | None:
        seat = crowd.seat(host)
        if seat is not None:
            seat.cut = lambda: cut.append(host)
        return seat

    ours = [come(f"2001:db8::{number}") for number in range(1, 6)]
    assert cut == ["2001:db8::1", "2001:db8::2", "2001:db8::3"]
    assert come("2001:db8:0:1::1") is not None
    assert len(cut) == 3
    for seat in ours[3:]:
        assert seat is not None
        seat.become_known()
    assert come("2001:db8::6") is None
    assert len(crowd.seats) == 3


@pytest.mark.skipif(os.name != "posix", reason="uvloop is for POSIX")
def test_the_fast_loop_counts_and_shakes_hands_as_well(tmp_path: Path, made: Made, short: None) -> None:
    """What the server really runs on, where the tests' own loop is another."""
    uvloop = pytest.importorskip("uvloop")

    async def ask() -> int:
        trusting = ssl.create_default_context(cafile=made.issuer)
        tls = site_certificate(made.certificate, made.key).context
        client = httpx.AsyncClient(verify=trusting, trust_env=False)
        async with serving(tmp_path, "one", tls=tls) as service, opened(service) as silent, client as device:
            async with service.desk(trusting=trusting) as desk:
                await heard(desk, "snapshot")
                answer = await device.get(f"https://{service.host}/api/me")
            await silent.is_dropped()
            return answer.status_code

    with asyncio.Runner(loop_factory=uvloop.new_event_loop) as runner:
        assert runner.run(ask()) == 200
