"""The load's bench itself: its shares and goals, and that it misses no desk that was not told."""

import asyncio
import math

import pytest
from websockets.asyncio.server import ServerConnection, serve

from server.timeline.plan import parse_plan
from tests.bench.load.crowds import _has, all_back_s
from tests.bench.load.rows import at_most, share_of
from tests.bench.load.shows import MovingBox, plan_text, wiring_text

PATIENCE_S = 10.0
HEAD = b"HTTP/1.1 101 Switching Protocols\r\n\r\n"


@pytest.mark.parametrize(("share", "value"), [(0.5, 50), (0.99, 99), (1.0, 100), (0.0, 1)])
def test_a_share_is_the_nearest_rank(share: float, value: float) -> None:
    """Of one to a hundred."""
    assert share_of([float(n) for n in range(100, 0, -1)], share) == value


def test_of_nothing_there_is_no_share() -> None:
    """So a goal is not met by measuring nothing."""
    assert math.isnan(share_of([], 0.5))
    assert at_most("x", share_of([], 0.5), 1.0, "s").is_met is False


@pytest.mark.parametrize(("figure", "is_met"), [(0.9, True), (1.0, True), (1.1, False)])
def test_a_goal_is_a_bound(figure: float, is_met: bool) -> None:
    """The bound itself is still good."""
    assert at_most("x", figure, 1.0, "s").is_met is is_met


@pytest.mark.parametrize(
    ("data", "is_there"),
    [
        (HEAD[:10], False),
        (HEAD, False),
        (HEAD + b"\x81\x05he", False),
        (HEAD + b"\x81\x05hello", True),
        (HEAD + b"\x81\x05other", False),
        (b"HTTP/1.1 403 Forbidden\r\n\r\n\x81\x05hello", False),
    ],
)
def test_a_desk_is_back_once_its_first_message_is_whole(data: bytes, is_there: bool) -> None:
    """Half a snapshot, another message or a refusal is none."""
    assert _has(data, b"hello") is is_there


async def test_a_desk_that_is_told_nothing_is_not_counted() -> None:
    """Of six that come back, the server drops every other."""
    came = 0

    async def tell(desk: ServerConnection) -> None:
        nonlocal came
        came += 1
        if came % 2:
            await desk.send('{"type":"snapshot"}')

    async with serve(tell, "127.0.0.1", 0, compression=None, close_timeout=0.1) as server, asyncio.timeout(PATIENCE_S):
        host, port = next(iter(server.sockets)).getsockname()[:2]
        took_s = await asyncio.to_thread(all_back_s, f"{host}:{port}", "/", 6, b'"type":"snapshot"')
    assert sorted(took_s) == took_s
    assert len(took_s) == 3


def test_its_plan_and_its_wiring_are_those_of_a_show() -> None:
    """All lamps and dousers of thirty stations fit on one box."""
    plan = parse_plan(plan_text(30, "Load"), "load.plan.toml")
    assert len(plan.stations) == 30
    assert wiring_text(30, "socket://127.0.0.1:1").count("[[inputs]]") == 60


def test_each_input_goes_over_in_its_turn() -> None:
    """On in the first turn, off in the next: no flicker that a server would hold."""
    box = MovingBox(3)
    said: list[str] = []
    box.plug.send = lambda data: said.append(data.decode().split()[2] + data.decode().split()[3])  # type: ignore[method-assign]
    for _ in range(6):
        box.move()
    box.plug.die()
    assert said == ["11", "21", "31", "10", "20", "30"]
