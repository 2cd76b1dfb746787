"""Many desks in this program: those that read, those that stall, and those that all come back at once."""

import base64
import json
import os
import select
import socket
import time
from contextlib import suppress
from typing import NamedTuple

from tests.bench.crowd import PING, PONG, READ_BYTES, TEXT, Crowd, Listener, frame_size, payload

SMALL_BUFFER_BYTES = 4096
PATIENCE_S = 30.0


class Tapped(NamedTuple):
    """How long a tap took to be acknowledged to the desk that made it, and to be at the last of all desks, in s."""

    answered_s: float
    last_s: float


class ListeningCrowd(Crowd):
    """Desks on one run of which the first taps, and keeps every change that it is sent in `changes`."""

    def __init__(self, address: str, path: str, desks: int) -> None:
        self.changes: list[bytes] = []
        self._answered_s = list[float]()
        self._first: Listener | None = None
        super().__init__(address, path, desks)
        self._first = next(iter(self._listeners.values()))

    def tap(self, tap: dict[str, object]) -> Tapped:
        """Have the first desk send an event; wait until that is answered, and is at every desk."""
        assert self._first is not None
        sought, waiting = str(tap["id"]).encode(), len(self._listeners)
        self._answered_s.clear()
        begun = last = time.perf_counter()
        self._first.send(TEXT, json.dumps({"type": "event", "event": tap}).encode())
        while waiting or not self._answered_s:
            ready = self._poll.poll(PATIENCE_S)
            if not ready:
                raise TimeoutError(f"{waiting} desks were not told")
            for number, _ in ready:
                if self._heard(self._listeners[number], sought):
                    waiting, last = waiting - 1, time.perf_counter()
        return Tapped(self._answered_s[0] - begun, last - begun)

    def _heard(self, listener: Listener, sought: bytes) -> bytes | None:
        found = None
        for frame in listener.frames():
            self.heard_bytes += len(frame)
            if frame[0] == PING:
                listener.send(PONG, frame[2:])
            elif b'{"type":"change"' in frame[:30]:
                found = frame if sought in frame else found
                if listener is self._first:
                    self.changes.append(payload(frame))
            elif listener is self._first and b'"taken"' in frame[:30]:
                self._answered_s.append(time.perf_counter())
        return found


class Stalled:
    """Desks that never read: each that is dropped comes back, and stalls again."""

    def __init__(self, address: str, path: str, desks: int) -> None:
        self._where = (address, path)
        self._desks = [self._new() for _ in range(desks)]
        self.dropped = 0

    def look(self) -> None:
        """Bring back those that were dropped."""
        for number, desk in enumerate(self._desks):
            try:
                desk.send(TEXT, b'{"type": "time", "c": 1}')
            except OSError:
                desk.socket.close()
                self.dropped += 1
                self._desks[number] = self._new()

    def close(self) -> None:
        """Let all go."""
        for desk in self._desks:
            desk.socket.close()

    def _new(self) -> Listener:
        desk = Listener(*self._where)
        desk.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, SMALL_BUFFER_BYTES)
        return desk


def all_back_s(address: str, path: str, desks: int, sought: bytes) -> list[float]:
    """Have so many desks connect at once; after how long each was sent `sought`, for those that were."""
    host, port = address.split(":")
    key = base64.b64encode(os.urandom(16)).decode()
    asked = (
        f"GET {path} HTTP/1.1\r\nHost: {address}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        f"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {key}\r\n\r\n"
    ).encode()
    poll, held, took_s = select.epoll(), dict[int, tuple[socket.socket, bytes]](), list[float]()
    begun = time.perf_counter()
    for _ in range(desks):
        plug = socket.create_connection((host, int(port)), timeout=PATIENCE_S)
        plug.sendall(asked)
        plug.setblocking(False)
        held[plug.fileno()] = (plug, b"")
        poll.register(plug, select.EPOLLIN)
    waiting = set(held)
    while waiting and (ready := poll.poll(PATIENCE_S)):
        for number, _ in ready:
            plug, before = held[number]
            with suppress(OSError):
                data = plug.recv(READ_BYTES)
                held[number] = (plug, before + data)
                if not data or _has(before + data, sought):
                    poll.unregister(plug)
                    waiting.discard(number)
                    took_s += [time.perf_counter() - begun] if data else []
    for plug, _ in held.values():
        plug.close()
    poll.close()
    return took_s


def _has(data: bytes, sought: bytes) -> bool:
    """Whether the head of the answer is there, and with it a whole first message with what is sought, if anything."""
    head, found, first = data.partition(b"\r\n\r\n")
    if not found or not head.startswith(b"HTTP/1.1 101 "):
        return False
    if not sought:
        return True
    size = frame_size(first, 0)
    return bool(size) and len(first) >= size and sought in first
