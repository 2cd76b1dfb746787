"""The least that a websocket server can do: it broadcasts a given message whenever a client names it."""

import asyncio
import json
import sys

import uvloop
from websockets.asyncio.server import ServerConnection, broadcast, serve
from websockets.exceptions import ConnectionClosedError


async def main() -> None:
    """Serve until the process is ended. Who sends `keep` and `message` gives a message its name, and is no listener."""
    messages: dict[str, bytes] = {}
    connections: set[ServerConnection] = set()

    async def handle(connection: ServerConnection) -> None:
        connections.add(connection)
        try:
            async for text in connection:
                said = json.loads(text)
                if "keep" in said:
                    connections.discard(connection)
                    messages[said["keep"]] = said["message"].encode()
                    await connection.send("kept")
                else:
                    broadcast(connections, messages.pop(said["event"]["id"]), text=True)
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
    uvloop.run(main())
