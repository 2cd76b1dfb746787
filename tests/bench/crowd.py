"""Many desks in one process, each of which reads frames and does as little else as a client can: sockets and epoll."""

import base64
import os
import select
import socket
import time
from typing import Self

READ_BYTES = 1 << 18
PING = 0x89
PONG = 0x8A
TEXT = 0x81


class Listener:
    """One desk: an open websocket (RFC 6455) and what has come of a frame that is not whole yet."""

    def __init__(self, address: str, path: str) -> None:
        host, port = address.split(":")
        self.socket = socket.create_connection((host, int(port)), timeout=10.0)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(
            f"GET {path} HTTP/1.1\r\nHost: {address}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {key}\r\n\r\n".encode()
        )
        head = b""
        while b"\r\n\r\n" not in head:
            head += self.socket.recv(READ_BYTES)
        assert head.startswith(b"HTTP/1.1 101 "), head
        self.held = head.partition(b"\r\n\r\n")[2]
        self.socket.setblocking(False)

    def frames(self) -> list[bytes]:
        """Read what has come; the frames in it that are whole, headers and all."""
        data = self.socket.recv(READ_BYTES)
        if not data:
            raise ConnectionError("a desk was dropped")
        if self.held:
            data = self.held + data
        frames: list[bytes] = []
        start = 0
        while (size := frame_size(data, start)) and start + size <= len(data):
            frames.append(data[start : start + size])
            start += size
        self.held = data[start:]
        return frames

    def send(self, first: int, payload: bytes) -> None:
        """Send a frame as a client does: masked, here with zeros, which leave the bytes as they are."""
        size = len(payload)
        length = bytes((0x80 | size,)) if size < 126 else b"\xfe" + size.to_bytes(2, "big")
        self.socket.sendall(bytes((first,)) + length + bytes(4) + payload)


def frame_size(data: bytes, start: int) -> int:
    """Bytes of the frame that begins at `start`, with its header (RFC 6455, 5.2); 0 where that cannot be told yet."""
    if len(data) < start + 10:
        return 2 + data[start + 1] if len(data) >= start + 2 and data[start + 1] < 126 else 0
    size = data[start + 1]
    if size < 126:
        return 2 + size
    if size == 126:
        return 4 + int.from_bytes(data[start + 2 : start + 4], "big")
    return 10 + int.from_bytes(data[start + 2 : start + 10], "big")


class Crowd:
    """So many desks on one websocket address."""

    def __init__(self, address: str, path: str, desks: int) -> None:
        """Connect all, and let them come to rest."""
        self.heard_bytes = 0
        self._poll = select.epoll()
        self._listeners: dict[int, Listener] = {}
        for _ in range(desks):
            listener = Listener(address, path)
            self._listeners[listener.socket.fileno()] = listener
            self._poll.register(listener.socket, select.EPOLLIN)
        self.rest(time.perf_counter() + 0.3)

    def __enter__(self) -> Self:
        return self

    def __len__(self) -> int:
        """How many desks."""
        return len(self._listeners)

    def __exit__(self, *_: object) -> None:
        for listener in self._listeners.values():
            listener.socket.close()
        self._poll.close()

    def rest(self, until: float) -> None:
        """Read whatever has come and comes, and answer pings, until that time of `time.perf_counter`."""
        while (ready := self._poll.poll(max(0.0, until - time.perf_counter()))) or time.perf_counter() < until:
            for number, _ in ready:
                self._heard(self._listeners[number], b"\0")

    def deliver(self, text: str, sought: bytes) -> tuple[float, bytes]:
        """Have one desk say `text`; how long until the last desk has a change with `sought`, and that change."""
        waiting = len(self._listeners)
        message = b""
        start = time.perf_counter()
        next(iter(self._listeners.values())).send(TEXT, text.encode())
        while waiting:
            ready = self._poll.poll(10.0)
            if not ready:
                raise TimeoutError(f"{waiting} desks were not told")
            for number, _ in ready:
                found = self._heard(self._listeners[number], sought)
                if found:
                    waiting -= 1
                    message = found
        end = time.perf_counter()
        return end - start, payload(message)

    def _heard(self, listener: Listener, sought: bytes) -> bytes | None:
        """The frame with what is looked for, if it has come to this desk."""
        found = None
        for frame in listener.frames():
            self.heard_bytes += len(frame)
            if frame[0] == PING:
                listener.send(PONG, frame[2:])
            elif sought in frame and b'{"type":"change"' in frame[:30]:
                found = frame
        return found


def payload(frame: bytes) -> bytes:
    """What a frame carries."""
    return frame[{126: 4, 127: 10}.get(frame[1], 2) :]
