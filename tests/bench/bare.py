"""The least that a websocket server can do: it broadcasts a given message whenever a client names it."""

import asyncio
import json
import sys
from pathlib import Path

import uvloop
from websockets.asyncio.server import ServerConnection, broadcast, serve
from websockets.exceptions import ConnectionClosedError


async def main(messages: dict[str, str]) -> None:
    """Serve until the process is ended; `messages` by the id of the event that each is sent for."""
    encoded = {name: message.encode() for name, message in messages.items()}
    connections: set[ServerConnection] = set()

    async def handle(connection: ServerConnection) -> None:
        connections.add(connection)
        try:
            async for text in connection:
                broadcast(connections, encoded[json.loads(text)["event"]["id"]], text=True)
        except ConnectionClosedError:  # the load client leaves without a word
            return
        finally:
            connections.discard(connection)

    # The library's own backlog of 100 would make returning desks wait a second.
    async with serve(handle, "127.0.0.1", 0, compression=None, backlog=2048) as server:
        host, port = next(iter(server.sockets)).getsockname()
        sys.stdout.write(f"http://{host}:{port}\n")
        sys.stdout.flush()
        await asyncio.get_running_loop().create_future()


if __name__ == "__main__":
    uvloop.run(main(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))))
