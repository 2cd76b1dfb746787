"""Desks and programs that do what none should, each until it is told to stop; and what the server answered them."""

import os
import socket
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from multiprocessing.synchronize import Event

import orjson

from server.desk.access import MESSAGE_BYTES
from tests.bench.crowd import READ_BYTES, TEXT, Listener, frame_size, payload
from tests.bench.faults.stage import PATIENCE_S
from tests.bench.faults.tapping import Befallen

Hostile = Callable[[str, str, Event], Befallen]
"""Is given the server's address, the path of a run's websocket, and what says that it is to stop."""

STALLED, COMING, HALVES, AT_ONCE = 20, 10, 50, 50
A_MINUTE = 100
BIG_BYTES = 10_000_000
FRAGMENT_BYTES = 16_000
SMALL_BUFFER_BYTES = 4096

BINARY, FIRST, CONTINUED, CLOSE = 0x82, 0x01, 0x00, 0x88
NOT_UTF8, TOO_BIG = 1007, 1009
"""RFC 6455, 5.2 and 7.4.1."""

NONSENSE = (
    *(b"", b"null", b"17", b"{", b"[]", b'"x"', b"\0", b"[" * 10_000, b"9" * 5_000, b'{"type": ["event"]}'),
    *(b'{"type": "event"}', b'{"type": "event", "event": {}}', b'{"type": "time", "c": {}}', b'{"type": "taken"}'),
    b'{"type": "event", "event": {"id": 1, "kind": {"a": []}}}',
    b'{"type": "event", "event": {"id": "\\ud800", "kind": "note", "text": "x", "source": "tap"}}',
    b'{"type": "event", "event": {"id": "n", "kind": "slack_read", "station": "b", "seconds": 1e999, "source": "tap"}}',
    b'{"type": "event", "event": {"id": "n", "kind": "note", "text": "x", "source": "tap", "t": "9999-99-99"}}',
    b"x" * (MESSAGE_BYTES + 1),
)


class Rude(Listener):
    """A desk that says what it likes, at any length, and waits for what comes."""

    def __init__(self, host: str, path: str) -> None:
        super().__init__(host, path)
        self.socket.settimeout(PATIENCE_S)

    def frame(self) -> bytes:
        """The next frame, headers and all. Raises ConnectionError at the end."""
        while not (size := frame_size(self.held, 0)) or size > len(self.held):
            data = self.socket.recv(READ_BYTES)
            if not data:
                raise ConnectionError("a desk was dropped")
            self.held += data
        frame, self.held = self.held[:size], self.held[size:]
        return frame

    def send(self, first: int, payload: bytes) -> None:
        """As `Listener`, but of any length and kind (RFC 6455, 5.2)."""
        size = len(payload)
        if size < 126:
            length = bytes((0x80 | size,))
        else:
            length = b"\xfe" + size.to_bytes(2, "big") if size < 1 << 16 else b"\xff" + size.to_bytes(8, "big")
        self.socket.sendall(bytes((first,)) + length + bytes(4) + payload)


def stall(host: str, path: str, stop: Event) -> Befallen:
    """Desks that read nothing more: each is dropped, or is told how things stand once it reads again."""
    desks = [Rude(host, path) for _ in range(STALLED)]
    for desk in desks:
        desk.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, SMALL_BUFFER_BYTES)
    stop.wait()
    dropped = right = 0
    for desk in desks:
        with suppress(ConnectionError):
            desk.send(TEXT, b'{"type": "time", "c": 1}')
        with suppress(TimeoutError):
            dropped += _answer(desk, "time") is None
            right += 1
        desk.socket.close()
    return Befallen(STALLED, right, f"{dropped} of {STALLED} dropped")


def reconnect(host: str, path: str, stop: Event) -> Befallen:
    """Desks that come and leave without a word, each a hundred times a minute: each has its snapshot."""
    tries = right = 0
    while not stop.wait(60 / A_MINUTE / COMING):
        tries += 1
        desk = Rude(host, path)
        right += _answer(desk, "snapshot") is not None
        desk.socket.close()
    return Befallen(tries, right, f"{tries} came")


def talk_nonsense(host: str, path: str, stop: Event) -> Befallen:
    """Each message is refused, and the desk is kept."""
    tries = right = 0
    desk = Rude(host, path)
    while not stop.is_set():
        for first, said in [*((TEXT, each) for each in NONSENSE), (BINARY, os.urandom(100))]:
            tries += 1
            desk.send(first, said)
            right += _answer(desk, "refused") is not None
    desk.socket.close()
    return Befallen(tries, right, f"{tries} messages")


def send_no_utf8(host: str, path: str, stop: Event) -> Befallen:
    """Each is closed with 1007."""
    return _until_closed(host, path, stop, NOT_UTF8, lambda: [(TEXT, b'{"type": "time", "c": "\xff\xc3\x28"}')])


def send_big(host: str, path: str, stop: Event) -> Befallen:
    """Each is closed with 1009, whether it comes in one frame or in many."""
    return _until_closed(host, path, stop, TOO_BIG, _big)


def flood(host: str, path: str, stop: Event) -> Befallen:
    """A program that reports fifty events at once, again and again: what is too much is to come again later."""
    tries = right = taken = 0
    desk = Rude(host, path)
    while not stop.is_set():
        for number in range(tries, tries + AT_ONCE):
            event = {"id": f"flood {number}", "kind": "note", "text": "x", "source": "contact:gate"}
            desk.send(TEXT, orjson.dumps({"type": "event", "event": event}))
        for _ in range(AT_ONCE):
            answer = _answer(desk, "taken", "refused")
            right += answer is not None and answer.get("again") is not False
            taken += answer is not None and answer["type"] == "taken"
        tries += AT_ONCE
    desk.socket.close()
    return Befallen(tries, right, f"{taken} of {tries} events taken")


def stop_midway(host: str, path: str, stop: Event) -> Befallen:
    """Half a request each: every one is dropped in its time."""
    address, port = host.split(":")
    head = f"POST {path.removesuffix('live')}events HTTP/1.1\r\nHost: {host}\r\nContent-Length: 100\r\n"
    sockets = []
    for number in range(HALVES):
        one = socket.create_connection((address, int(port)), PATIENCE_S)
        one.sendall(head.encode() if number % 2 else f'{head}Content-Type: application/json\r\n\r\n{{"id"'.encode())
        sockets.append(one)
    stop.wait()
    right = 0
    for one in sockets:
        one.settimeout(0.2)
        with suppress(TimeoutError):
            right += _is_at_its_end(one)
        one.close()
    return Befallen(HALVES, right, f"{right} dropped")


def _answer(desk: Rude, *kinds: str) -> dict[str, object] | None:
    """The next message of one of these types; None where the connection ends before."""
    for frame in _frames(desk):
        message = orjson.loads(payload(frame)) if frame[0] == TEXT else {"type": ""}
        if message["type"] in kinds:
            return dict(message)
    return None


def _frames(desk: Rude) -> Iterator[bytes]:
    """What comes until the server ends the connection. Raises TimeoutError where nothing comes and it goes on."""
    with suppress(ConnectionError):
        while True:
            yield desk.frame()


def _until_closed(
    host: str, path: str, stop: Event, code: int, frames: Callable[[], Iterable[tuple[int, bytes]]]
) -> Befallen:
    """Say it on a connection of its own each time; right where it is closed with `code`.

    One that is reset while it still sends cannot know why.
    """
    tries = right = 0
    while not stop.is_set():
        tries += 1
        desk = Rude(host, path)
        with suppress(ConnectionError):
            for first, said in frames():
                desk.send(first, said)
        right += _code(desk) in {code, None}
        desk.socket.close()
    return Befallen(tries, right, f"{tries} times")


def _code(desk: Rude) -> int | None:
    """What a connection is closed with; None where it is reset. Raises TimeoutError where it goes on."""
    closes = (frame for frame in _frames(desk) if frame[0] == CLOSE)
    return next((int.from_bytes(payload(frame)[:2], "big") for frame in closes), None)


def _big() -> Iterator[tuple[int, bytes]]:
    """In one frame, or in many: either, by chance."""
    if os.urandom(1)[0] % 2:
        yield TEXT, b"x" * BIG_BYTES
        return
    for number in range(BIG_BYTES // FRAGMENT_BYTES):
        yield CONTINUED if number else FIRST, b"x" * FRAGMENT_BYTES


def _is_at_its_end(one: socket.socket) -> bool:
    with suppress(ConnectionError):
        while one.recv(4096):
            pass
    return True
