"""The supervisor: a feed comes and goes, and the desks are told, once each time."""

import asyncio
from datetime import timedelta

import pytest

from adapters.base import Backoff, EventIds, FeedFault, Post, RunClock, Up, supervise
from server.timeline.events import Event
from tests.adapters.shows import ZERO, ManualClock, Posts


class Port:
    """A feed whose lives are written beforehand: what `open` raises, how long `run` is up, what it raises then."""

    source = "contact:north"

    def __init__(self, clock: ManualClock, *lives: tuple[Exception | None, float, Exception | None]) -> None:
        self._clock = clock
        self._lives = list(lives)
        self.calls: list[str] = []

    async def open(self) -> None:
        self.calls.append("open")
        fault = self._lives[0][0]
        if fault is not None:
            self._lives.pop(0)
            raise fault

    async def run(self, post: Post, clock: RunClock, up: Up) -> None:
        await up()
        self.calls.append("run")
        _, up_s, fault = self._lives.pop(0)
        await post(
            Event(id=f"e{len(self._lives)}", t=clock.now(), kind="motor_start", station="h1", source=self.source)
        )
        self._clock.move(self._clock.now() + timedelta(seconds=up_s))
        if fault is not None:
            raise fault

    async def close(self) -> None:
        self.calls.append("close")


async def run(*lives: tuple[Exception | None, float, Exception | None]) -> tuple[Port, Posts, ManualClock]:
    clock = ManualClock()
    port, posts = Port(clock, *lives), Posts(clock)
    await supervise(port, posts, clock, Backoff(first_s=1.0, factor=2.0, longest_s=5.0, healthy_s=30.0), clock.sleep)
    return port, posts, clock


async def test_a_feed_that_finishes_is_told_up_and_never_down() -> None:
    """The end of a recording is no silence."""
    port, posts, clock = await run((None, 1.0, None))
    assert port.calls == ["open", "run", "close"]
    assert posts.told == [("feed_up", None), ("motor_start", None)]
    assert clock.slept_s == []


async def test_a_feed_that_fails_is_opened_again_and_both_are_told() -> None:
    """A wire that breaks is a feed_down with its reason, and a feed_up when it is back."""
    port, posts, _ = await run((None, 1.0, FeedFault("the wire is cut")), (None, 1.0, None))
    assert port.calls == ["open", "run", "close", "open", "run", "close"]
    assert posts.told == [
        ("feed_up", None),
        ("motor_start", None),
        ("feed_down", "the wire is cut"),
        ("feed_up", None),
        ("motor_start", None),
    ]
    assert {event.source for _, event in posts.taken} == {"contact:north"}
    assert len(set(posts.ids)) == len(posts.ids)


async def test_a_port_that_stays_away_is_told_once_and_asked_ever_more_seldom() -> None:
    """Waits double up to the longest, and the desks are not told of every try."""
    away = (FeedFault("no port"), 0.0, None)
    _, posts, clock = await run(away, away, away, away, away, (None, 1.0, None))
    assert posts.told == [("feed_down", "no port"), ("feed_up", None), ("motor_start", None)]
    assert clock.slept_s == [1.0, 2.0, 4.0, 5.0, 5.0]


@pytest.mark.parametrize(("up_s", "waits"), [(5.0, [1.0, 2.0]), (60.0, [1.0, 1.0])])
async def test_only_a_feed_that_stayed_up_starts_its_waits_again(up_s: float, waits: list[float]) -> None:
    """A port that comes and goes within seconds is not asked at full speed for ever."""
    broken = (None, up_s, FeedFault("cut"))
    _, _, clock = await run(broken, broken, (None, 1.0, None))
    assert clock.slept_s == waits


async def test_an_adapters_own_mistake_is_told_and_does_not_end_it(caplog: pytest.LogCaptureFixture) -> None:
    """One wrong adapter must not end the show for the others; its traceback is in the log."""
    port, posts, _ = await run((None, 1.0, KeyError("h9")), (None, 1.0, None))
    assert port.calls.count("close") == 2
    assert ("feed_down", "KeyError: 'h9'") in posts.told
    assert "Traceback" in caplog.text


async def test_a_cancelled_feed_is_closed_and_nothing_is_told() -> None:
    """A server that stops is not a feed that fails."""

    class Endless(Port):
        async def run(self, post: Post, clock: RunClock, up: Up) -> None:
            await up()
            await asyncio.Event().wait()

    clock = ManualClock()
    port, posts = Endless(clock, (None, 0.0, None)), Posts(clock)
    task = asyncio.create_task(supervise(port, posts, clock, sleep=clock.sleep))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert port.calls == ["open", "close"]
    assert posts.told == [("feed_up", None)]


def test_ids_differ_within_a_start_and_between_starts() -> None:
    """A source that starts again cannot give an id that it gave before."""
    first, second = EventIds("contact:north", ZERO), EventIds("contact:north", ZERO + timedelta(microseconds=1))
    ids = [first.new(), first.new(), second.new(), second.new()]
    assert len(set(ids)) == 4
