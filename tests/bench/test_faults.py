"""The faults' bench itself: what it would find, and that its bad networks and bad desks are bad."""

import asyncio
import json
import random
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest
from websockets.asyncio.server import ServerConnection, serve

from tests.bench.faults import hostile
from tests.bench.faults.kills import kills
from tests.bench.faults.proxy import Proxy, proxied
from tests.bench.faults.stage import Ledger, Outcome
from tests.bench.faults.tablet import Tablet

PATIENCE_S = 10.0


def test_what_was_acknowledged_and_is_not_there_is_lost() -> None:
    """And what is there twice is doubled."""
    ledger = Ledger()
    ledger.taken = {"a": 1, "b": 2, "c": 3}
    assert ledger.against(["a", "b", "c"]) == (0, 0)
    assert ledger.against(["a", "c", "c", "d"]) == (1, 1)


@pytest.mark.parametrize(
    ("figures", "is_good"),
    [((0, 0, 0, 0), True), ((1, 0, 0, 0), False), ((1, 1, 0, 0), True), ((0, 0, 1, 0), False), ((0, 0, 0, 1), False)],
)
def test_nothing_may_be_lost_in_silence_doubled_or_unsaid(figures: tuple[int, int, int, int], is_good: bool) -> None:
    """What is told as lost is no silence."""
    assert Outcome("a fault", 1, 10, *figures).is_good is is_good


@asynccontextmanager
async def echoed() -> AsyncIterator[tuple[Proxy, asyncio.StreamReader, asyncio.StreamWriter]]:
    """A server that says what it hears, behind a network, and a connection to it."""

    async def echo(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while data := await reader.read(100):
            writer.write(data)
        writer.close()

    server = await asyncio.start_server(echo, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    async with server, proxied(f"{host}:{port}") as proxy, asyncio.timeout(PATIENCE_S):
        reader, writer = await asyncio.open_connection(*proxy.address.split(":"))
        yield proxy, reader, writer
        writer.close()


async def test_what_stands_still_comes_later() -> None:
    """Nothing is lost, and nothing comes before the network goes on."""
    async with echoed() as (proxy, reader, writer):
        proxy.stalled = True
        writer.write(b"one")
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(reader.read(100), 0.05)
        proxy.stalled = False
        assert await reader.read(100) == b"one"


@pytest.mark.parametrize("way", ["up", "down"])
async def test_half_of_a_message_comes_and_then_nothing(way: str) -> None:
    """Either way: what is read until the end is half at most."""
    async with echoed() as (proxy, reader, writer):
        proxy.halve[way] = 1
        writer.write(b"12345678")
        came = b""
        with suppress(ConnectionError):
            came = await reader.read()
        assert came in {b"", b"1234"}
        assert proxy.halve[way] == 0


async def test_a_network_that_refuses_lets_nobody_in() -> None:
    """The connection ends before anything was said."""
    async with echoed() as (proxy, _, _):
        proxy.refusing = True
        reader, writer = await asyncio.open_connection(*proxy.address.split(":"))
        writer.write(b"x")
        came = b""
        with suppress(ConnectionError):
            came = await reader.read(100)
        assert came == b""


async def test_a_tablet_says_again_what_was_not_answered() -> None:
    """With its id and its time, before what came after it; what was answered is not said again."""
    heard: list[str] = []

    async def forgetful(desk: ServerConnection) -> None:
        await desk.send(json.dumps({"type": "snapshot", "seq": 0, "epoch": "e"}))
        async for text in desk:
            event = json.loads(text)["event"]
            heard.append(event["id"])
            if len(heard) == 2:
                return
            await desk.send(json.dumps({"type": "taken", "id": event["id"], "seq": len(heard)}))

    async with serve(forgetful, "127.0.0.1", 0) as server, asyncio.timeout(PATIENCE_S):
        host, port = next(iter(server.sockets)).getsockname()[:2]
        async with proxied(f"{host}:{port}") as proxy:
            tablet = Tablet(proxy, "/")
            tasks = [asyncio.create_task(one) for one in (tablet.live(), tablet.tap())]
            while len(tablet.taken) < 3:  # noqa: ASYNC110 - the tablet sets no event of ours
                await asyncio.sleep(0.01)
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
    assert heard[:4] == ["tap 0", "tap 1", "tap 1", "tap 2"]


@pytest.mark.parametrize("is_right", [True, False])
async def test_a_server_that_closes_with_another_code_is_found_out(is_right: bool) -> None:
    """A server that follows RFC 6455 is right; one that takes nonsense for a farewell is not."""

    async def close(desk: ServerConnection) -> None:
        came.set()
        if is_right:
            await desk.recv()

    stop, came = threading.Event(), asyncio.Event()
    async with serve(close, "127.0.0.1", 0, compression=None) as server, asyncio.timeout(PATIENCE_S):
        host, port = next(iter(server.sockets)).getsockname()[:2]
        who = asyncio.to_thread(hostile.send_no_utf8, f"{host}:{port}", "/", stop)  # type: ignore[arg-type]
        asking = asyncio.create_task(who)
        await came.wait()
        stop.set()
        befallen = await asking
    assert befallen.tries > 0
    assert (befallen.right == befallen.tries) is is_right


@pytest.mark.slow
def test_a_server_that_is_killed_three_times_loses_nothing(tmp_path: Path) -> None:
    """The way through it all, small."""
    outcome = kills(tmp_path, 3, random.Random(1))
    assert outcome.taken > 0
    assert outcome.is_good, outcome
