"""Whatever bytes come to the port, as HTTP or over a websocket, the server goes on, and its log has no failure."""

import socket
from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import accumulate, pairwise
from subprocess import STDOUT

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.cli.running import PAIR, PATIENCE_S, Running
from tests.forked import Forked
from tests.mangled import mangled_bytes

MOMENT_S = 0.1
"""For so long an answer is waited for that may never come: half a request has none."""

REQUESTS = [
    b"GET /api/runs?x=%00&y=%zz HTTP/1.1\r\nHost: localhost\r\nCookie: festoon=a.b.c; \xff=1\r\n\r\n",
    b"POST /api/pairing HTTP/1.1\r\nHost: localhost\r\nContent-Length: 12\r\n\r\n{'code': 12}",
    b"POST /api/plans/check HTTP/1.1\r\nHost: localhost\r\nContent-Length: 11\r\n\r\n{'text':''}",
]
UPGRADE = (
    b"GET /api/runs/RUN/live?seq=0&epoch=x HTTP/1.1\r\nHost: localhost\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    b"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
)
unhurried = settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """One server for all; at its end it has said nothing of a failure, nor of what was no HTTP."""
    data = tmp_path_factory.mktemp("bytes")
    with Forked("serve", PAIR, "--port", "0", "--data", data, errors=STDOUT) as process:
        served = Running(process)
        yield served
        goes_on(served)
        process.terminate()
        said, _ = process.communicate(timeout=PATIENCE_S)
    assert said == ""


def answered(server: Running, *said: bytes) -> bytes:
    """All that comes back to what is said, each after an answer, or a moment without one; then no more is said."""
    came = b""
    with connected(server) as line, suppress(ConnectionError):
        for data in said:
            line.sendall(data)
            line.settimeout(MOMENT_S)
            with suppress(TimeoutError):
                came += line.recv(1 << 16)
        line.settimeout(PATIENCE_S)
        line.shutdown(socket.SHUT_WR)
        while piece := line.recv(1 << 16):
            came += piece
    return came


def connected(server: Running) -> socket.socket:
    host, _, port = server.host.rpartition(":")
    line = socket.create_connection((host, int(port)), timeout=PATIENCE_S)
    line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return line


def goes_on(server: Running) -> None:
    assert httpx.get(f"http://{server.host}/api/runs", trust_env=False).status_code == 200


@unhurried
@given(st.sampled_from(REQUESTS).flatmap(mangled_bytes) | st.binary(max_size=200))
def test_any_bytes_for_a_request(server: Running, data: bytes) -> None:
    """Answered with a refusal, or not at all: never with a failure."""
    came = answered(server, data)
    assert not came.startswith(b"HTTP/1.1 5")
    goes_on(server)


@unhurried
@given(st.integers(0, 2).map(REQUESTS.__getitem__), st.lists(st.integers(1, 60), min_size=1, max_size=10))
def test_a_request_in_any_pieces(server: Running, request_bytes: bytes, cuts: list[int]) -> None:
    """However it is cut it is the same request."""
    status = [line_of(server, [request_bytes])]
    ends = list(accumulate(cuts))
    pieces = [request_bytes[start:end] for start, end in pairwise([0, *ends, max(len(request_bytes), ends[-1])])]
    status.append(line_of(server, pieces))
    assert status[0].startswith(b"HTTP/1.1 ")
    assert status[0] == status[1]


def line_of(server: Running, pieces: Iterable[bytes]) -> bytes:
    """The first line of the answer to a request in pieces."""
    with connected(server) as line:
        for piece in pieces:
            line.sendall(piece)
        return line.recv(1 << 16).partition(b"\r\n")[0]


def frame(opcode: int, payload: bytes, *, is_last: bool, is_masked: bool) -> bytes:
    """One websocket frame as a client sends it (RFC 6455, 5.2)."""
    head = bytes([(0x80 if is_last else 0) | opcode])
    mask = 0x80 if is_masked else 0
    length = bytes([mask | len(payload)]) if len(payload) < 126 else bytes([mask | 126]) + len(payload).to_bytes(2)
    return head + length + (bytes(4) if is_masked else b"") + payload


FRAMES = st.builds(
    frame,
    st.sampled_from([0, 1, 1, 1, 2, 3, 8, 9, 10]),
    st.binary(max_size=200) | st.sampled_from([b"{}", b'{"type":"event","event":{}}', b"[" * 150, b"\x03\xe8"]),
    is_last=st.booleans() | st.just(value=True),
    is_masked=st.booleans() | st.just(value=True),
)


@unhurried
@given(st.lists(FRAMES, max_size=6).map(b"".join) | st.binary(max_size=100))
def test_any_bytes_over_a_websocket(server: Running, data: bytes) -> None:
    """Frames of any kind, whole and broken: the desk is answered or closed, the others go on."""
    came = answered(server, UPGRADE.replace(b"RUN", server.run_ids[0].encode()), data)
    assert came.startswith(b"HTTP/1.1 101 ")
    goes_on(server)


@unhurried
@given(mangled_bytes(UPGRADE))
def test_any_bytes_for_a_websockets_request(server: Running, data: bytes) -> None:
    """Its path, its key, its version."""
    came = answered(server, data.replace(b"RUN", server.run_ids[0].encode()))
    assert not came.startswith(b"HTTP/1.1 5")
    goes_on(server)
