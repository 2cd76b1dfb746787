"""Desks on the web server that is installed: these tests notice when uvicorn changes what frames.py reaches into."""

import asyncio
import socket
from collections.abc import AsyncIterator, Awaitable, Callable, MutableMapping
from contextlib import asynccontextmanager
from typing import Any

import pytest
import uvicorn
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from server.live import UVICORN_OPTIONS, Desk, DeskMiddleware, desk_from_scope, message_from_text
from server.live.frames import Application, FramedDesk, QueuedDesk, Receive, Scope, Send

LOOPS: dict[str, Callable[[], asyncio.AbstractEventLoop]] = {"asyncio": asyncio.new_event_loop}
try:
    import uvloop
except ImportError:  # there is none for Windows, and uvicorn does without
    pass
else:
    LOOPS["uvloop"] = uvloop.new_event_loop


@pytest.fixture(params=LOOPS)
def runner(request: pytest.FixtureRequest) -> Any:
    """A runner on each event loop that uvicorn may choose."""
    with asyncio.Runner(loop_factory=LOOPS[request.param]) as running:
        yield running


class Endpoint:
    """An application that accepts a websocket, keeps its desk, and repeats what it hears by ASGI's own send."""

    def __init__(self) -> None:
        self.desk: asyncio.Future[Desk] = asyncio.get_running_loop().create_future()
        self.gone = asyncio.Event()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await receive()
        await send({"type": "websocket.accept"})
        self.desk.set_result(desk_from_scope(scope))
        while (message := await receive())["type"] == "websocket.receive":
            await send({"type": "websocket.send", "text": message["text"]})
        self.gone.set()


@asynccontextmanager
async def served(app: Application) -> AsyncIterator[str]:
    """The address at which uvicorn serves `app`, with the options of the real server."""
    with socket.create_server(("127.0.0.1", 0)) as port:
        config = uvicorn.Config(app, log_config=None, lifespan="off", timeout_graceful_shutdown=1, **UVICORN_OPTIONS)
        server = uvicorn.Server(config)
        serving = asyncio.create_task(server._serve([port]))
        try:
            yield f"ws://127.0.0.1:{port.getsockname()[1]}"
        finally:
            server.should_exit = True
            await serving


@asynccontextmanager
async def one_desk(hide: bool = False) -> AsyncIterator[tuple[Endpoint, Desk, ClientConnection]]:
    """An endpoint, its desk and the client at the other end; `hide` puts a function between uvicorn and the desk."""
    endpoint = Endpoint()
    app = DeskMiddleware(endpoint)
    async with served(behind_a_function(app) if hide else app) as url, connect(url, compression=None) as client:
        yield endpoint, await endpoint.desk, client


def behind_a_function(app: Application) -> Application:
    """The same application, given a `send` that is nobody's method."""

    async def wrapped(scope: Scope, receive: Receive, send: Send) -> None:
        async def plain(message: MutableMapping[str, Any]) -> None:
            await send(message)

        await app(scope, receive, plain)

    return wrapped


def run(runner: asyncio.Runner, conversation: Callable[[], Awaitable[None]]) -> None:
    async def limited() -> None:
        async with asyncio.timeout(10.0):
            await conversation()

    runner.run(limited())


def test_this_uvicorn_takes_frames(runner: asyncio.Runner) -> None:
    """Under the installed uvicorn a desk is on its connection itself, not on the ordinary way."""

    async def conversation() -> None:
        async with one_desk() as (_, desk, _client):
            assert type(desk) is FramedDesk

    run(runner, conversation)


@pytest.mark.parametrize("hide", [False, True])
def test_messages_arrive_whole_and_in_order(runner: asyncio.Runner, hide: bool) -> None:
    """Frames of every length form arrive as text among what ASGI sends, by either way."""

    async def conversation() -> None:
        async with one_desk(hide) as (_, desk, client):
            assert isinstance(desk, QueuedDesk if hide else FramedDesk)
            texts = ["", "é", "x" * 125, "y" * 126, "z" * 65535, "ö" * 40000]
            for text in texts:
                desk.write(message_from_text(text.encode()))
                assert await client.recv() == text
                await client.send("heard")
                assert await client.recv() == "heard"
            for text in texts:
                desk.write(message_from_text(text.encode()))
            assert [await client.recv() for _ in texts] == texts
            assert desk.buffered_bytes == 0

    run(runner, conversation)


@pytest.mark.parametrize("hide", [False, True])
def test_a_closed_desk_is_gone(runner: asyncio.Runner, hide: bool) -> None:
    """`close` ends the connection for both sides, twice does no harm, and what is written after goes nowhere."""

    async def conversation() -> None:
        async with one_desk(hide) as (endpoint, desk, client):
            desk.close()
            desk.close()
            desk.write(message_from_text(b"late"))
            with pytest.raises(ConnectionClosed):
                await client.recv()
            await endpoint.gone.wait()

    run(runner, conversation)


@pytest.mark.parametrize("hide", [False, True])
def test_a_desk_whose_peer_left_takes_no_harm(runner: asyncio.Runner, hide: bool) -> None:
    """Writing to a connection that the peer has closed raises nothing, and nothing piles up."""

    async def conversation() -> None:
        async with one_desk(hide) as (endpoint, desk, client):
            await client.close()
            await endpoint.gone.wait()
            for _ in range(100):
                desk.write(message_from_text(b"late"))
                await asyncio.sleep(0)
            desk.close()
            assert desk.buffered_bytes == 0

    run(runner, conversation)


@asynccontextmanager
async def unread_desk() -> AsyncIterator[tuple[Endpoint, Desk]]:
    """An endpoint and its desk, whose client reads nothing."""
    endpoint = Endpoint()
    async with served(DeskMiddleware(endpoint)) as url:
        with socket.create_connection(("127.0.0.1", int(url.rsplit(":", 1)[1]))) as client:
            client.sendall(
                b"GET / HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                b"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n"
            )
            yield endpoint, await endpoint.desk


async def written_until(desk: Desk, buffered_bytes: int) -> int:
    """Write until so much waits in the program itself; how many bytes were written."""
    written = 0
    message = message_from_text(b"x" * 10_000)
    while desk.buffered_bytes < buffered_bytes:
        desk.write(message)
        written += len(message.frame)
        await asyncio.sleep(0)
    return written


def test_the_system_holds_little_for_a_desk_that_does_not_read(runner: asyncio.Runner) -> None:
    """Before what waits begins to be counted, the kernel has taken under 1 MB for a desk that reads nothing."""

    async def conversation() -> None:
        async with unread_desk() as (_, desk):
            written = await written_until(desk, 100_000)
            assert written - desk.buffered_bytes < 1_000_000
            desk.close()

    run(runner, conversation)


@pytest.mark.skipif(not hasattr(socket, "TCP_USER_TIMEOUT"), reason="Linux alone can; others ping each second")
def test_the_system_drops_a_desk_that_takes_nothing(runner: asyncio.Runner) -> None:
    """A desk at which nothing arrives any more is gone in seconds, long before a ping would be missed."""

    async def conversation() -> None:
        async with unread_desk() as (endpoint, desk):
            await written_until(desk, 100_000)
            await endpoint.gone.wait()

    run(runner, conversation)


async def test_the_ordinary_way_counts_what_waits() -> None:
    """While a server does not take a message, its bytes and those after it are counted; sent, they are not."""
    gate = asyncio.Event()
    sent: list[str] = []

    async def send(message: MutableMapping[str, Any]) -> None:
        await gate.wait()
        sent.append(message["text"])

    desk = QueuedDesk(send)
    desk.write(message_from_text(b"one"))
    desk.write(message_from_text("zwölf".encode()))
    await asyncio.sleep(0)
    assert (desk.buffered_bytes, sent) == (9, [])
    gate.set()
    assert desk._task is not None
    await desk._task
    assert (desk.buffered_bytes, sent) == (0, ["one", "zwölf"])


def test_a_desk_needs_the_middleware() -> None:
    """An application that was not wrapped is our own mistake and raises at once."""
    with pytest.raises(KeyError):
        desk_from_scope({"type": "websocket"})
