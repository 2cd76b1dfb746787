"""The player: every event at its time, by whatever clock, without waiting in the tests."""

import asyncio
from datetime import datetime, timedelta

import pytest

from adapters.recording import ByClock, ByStep, RecordingFeed
from server.timeline.events import Event, Rejected
from tests.adapters.shows import ZERO, ManualClock, Posts, up


def note(name: str, at_s: float) -> Event:
    return Event(id=name, t=ZERO + timedelta(seconds=at_s), kind="note", source="tap", text=name)


@pytest.mark.parametrize("rate", [1.0, 20.0])
async def test_every_event_is_posted_at_its_time_by_the_runs_clock(rate: float) -> None:
    """Twenty times as fast is the same show in a twentieth of the wait."""
    clock = ManualClock(rate=rate)
    posts = Posts(clock)
    events = [note("b", 40.0), note("a", 10.0), note("c", 100.5)]
    feed = RecordingFeed(events, ByClock(ZERO, clock.sleep), pytest.fail)
    await feed.open()
    await feed.run(posts, clock, up)
    assert posts.ids == ["a", "b", "c"]
    assert [came - event.t for came, event in posts.taken] == [timedelta()] * 3
    assert sum(clock.slept_s) * rate == pytest.approx(100.5)


async def test_a_clock_that_wakes_early_is_waited_for_again() -> None:
    """A sleep that ends too soon posts nothing from the future."""
    clock = ManualClock()
    posts = Posts(clock)

    async def half(seconds: float) -> None:
        await clock.sleep(max(seconds / 2.0, 1e-3))

    await RecordingFeed([note("a", 10.0)], ByClock(ZERO, half), print).run(posts, clock, up)
    assert posts.taken[0][0] >= ZERO + timedelta(seconds=10)


async def test_what_is_past_at_the_start_is_posted_at_once_and_told_together() -> None:
    """A run joined in the middle catches up, and says by how much."""
    clock = ManualClock(ZERO + timedelta(seconds=60))
    posts, told = Posts(clock), list[str]()
    events = [note("a", 10.0), note("b", 20.0), note("c", 90.0)]
    await RecordingFeed(events, ByClock(ZERO, clock.sleep), told.append).run(posts, clock, up)
    assert posts.ids == ["a", "b", "c"]
    assert told == ["2 events came late, by up to 50.0 s"]
    assert clock.slept_s == [30.0]


async def test_bad_lines_and_refusals_are_told_and_the_rest_is_played() -> None:
    """One bad line never ends a recording."""
    clock = ManualClock()
    posts, told = Posts(clock, refuse=["b"]), list[str]()
    rejected = [Rejected(3, "found no JSON; accepted one JSON object")]
    events = [note("a", 1.0), note("b", 2.0), note("c", 3.0)]
    feed = RecordingFeed(events, ByClock(ZERO, clock.sleep), told.append, rejected)
    await feed.open()
    await feed.run(posts, clock, up)
    assert posts.ids == ["a", "c"]
    assert told == ["line 3: found no JSON; accepted one JSON object", "b was refused: not wanted"]


async def test_step_by_step_each_step_lets_one_event_go_and_takes_the_clock_along() -> None:
    """Nothing moves between two steps."""
    clock = ManualClock(ZERO - timedelta(seconds=60))
    posts = Posts(clock)
    pace = ByStep(clock.move)
    task = asyncio.create_task(
        RecordingFeed([note("a", 1.0), note("b", 500.0), note("c", 9.0)], pace, print).run(posts, clock, up)
    )
    counts = []
    for steps in (0, 1, 2):
        pace.step(steps)
        for _ in range(10):
            await asyncio.sleep(0)
        counts.append(len(posts.taken))
    await task
    assert counts == [0, 1, 3]
    assert [came for came, _ in posts.taken] == [event.t for _, event in posts.taken]


async def test_an_interrupted_player_goes_on_where_it_was() -> None:
    """Run again after a cancellation, it posts what is left, and no event twice."""
    clock = ManualClock()
    posts = Posts(clock)

    class OnceStuck:
        stuck = True

        async def wait(self, moment: datetime, _: object) -> None:
            if self.stuck and moment > ZERO + timedelta(seconds=1):
                await asyncio.Event().wait()

    pace = OnceStuck()
    feed = RecordingFeed([note("a", 1.0), note("b", 2.0)], pace, print)
    task = asyncio.create_task(feed.run(posts, clock, up))
    for _ in range(5):
        await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    pace.stuck = False
    await feed.run(posts, clock, up)
    assert posts.ids == ["a", "b"]
