"""`festoon` with one part of the way to its desks taken out or done otherwise, to measure what that part costs.

    python -m tests.bench.ways asgi serve PLAN …

`asgi` is the ordinary way that stands beside frames.py, for any server; `library` is what `websockets.broadcast` does,
on the connection that uvicorn has: the library frames the message for each desk, and it is written to the transport at
once. `still` has no engine: every event changes what a note changes.
"""

import sys

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from server.cli import main
from server.live import frames, run
from server.live.desks import Desk, Message
from server.timeline.engine import Engine
from server.timeline.events import Event


class LibraryDesk(frames.FramedDesk):
    """A desk whose messages the websockets library frames, each time anew."""

    def write(self, message: Message) -> None:
        """Frame it and hand it over."""
        connection = self._connection
        if not (connection.close_sent or connection.disconnected):
            connection.conn.send_text(message.text)
            self._transport.write(b"".join(connection.conn.data_to_send()))


def library_desk(send: frames.Send) -> Desk:
    """A desk on uvicorn's connection. Raises TypeError on another."""
    connection = getattr(send, "__self__", None)
    if not isinstance(connection, WebSocketsSansIOProtocol):
        raise TypeError(f"found {connection!r}; accepted is uvicorn's connection")
    return LibraryDesk(connection)


class StillEngine(Engine):
    """An engine that takes what an engine may, and goes on showing what it showed first."""

    def take(self, event: Event, now_us: int) -> None:
        """Do nothing with it."""

    def next_wake_us(self) -> int | None:
        """Never."""
        return None


if __name__ == "__main__":
    way = sys.argv.pop(1)
    if way == "still":
        setattr(run, "Engine", StillEngine)  # noqa: B010 - it is a name that the module imports
    else:
        frames._desk = {"asgi": frames.QueuedDesk, "library": library_desk}[way]
    main()
