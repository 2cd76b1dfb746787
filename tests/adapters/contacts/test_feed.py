"""A feed holds no more than it can be let go with: what waits to be written down is bounded."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta

import pytest

from adapters.base import FeedFault
from adapters.contacts.feed import FOUND_US, MOST_WAITING, ContactFeed
from adapters.contacts.rollcall import RollCall
from server.clock import Clock
from server.timeline.events import Event
from tests.adapters.contacts.wired import MS, PLAN, WIRES, Facts, S, wiring
from tests.adapters.shows import ZERO, ManualClock, up


def feed() -> ContactFeed:
    made = wiring()
    return ContactFeed(made.feeds[0], PLAN, Facts(), RollCall(made.inputs), Clock(ZERO).now())


def test_a_port_is_let_go_where_too_many_events_wait_and_none_of_them_is_lost() -> None:
    """Levels are found again when it is opened; what had come is kept, in its order."""
    full = feed()
    full.bank.begin()
    for n in range(MOST_WAITING + 1):
        full.bank.note("contact:north", f"note {n}", n)
    with pytest.raises(FeedFault, match=f"{MOST_WAITING + 1} events wait to be written down"):
        full.pass_time(1_000_000)
    assert [event.text for event in full.bank.events] == [f"note {n}" for n in range(MOST_WAITING + 1)]
    assert full.fault is not None


async def test_what_waited_is_posted_once_it_can_be_before_the_port_is_opened_again() -> None:
    """The feed ends with its fault only when everything is written down."""
    full, posted, log = feed(), list[Event](), asyncio.Event()

    async def post(event: Event) -> str | None:
        await log.wait()
        posted.append(event)
        return None

    class Quiet:
        async def open(self) -> None: ...
        async def close(self) -> None: ...
        async def run(self, receiver: object, now_us: object) -> None:
            for n in range(MOST_WAITING + 1):
                full.bank.note("contact:north", f"note {n}", n)
            await asyncio.Event().wait()

    full._port = Quiet()
    running = asyncio.create_task(full.run(post, Clock(ZERO), up))
    while full.fault is None or not full.fault[0].isdigit():  # noqa: ASYNC110 - the feed sets no event of ours
        await asyncio.sleep(0.01)
    assert not running.done()
    log.set()
    with pytest.raises(FeedFault):
        await running
    assert [event.text for event in posted][:3] == ["note 0", "note 1", "note 2"]
    assert len(posted) >= MOST_WAITING + 1
    assert not full.bank.events


class Talk:
    """A run that takes what a feed says, and the port that gives it readings at the times of a manual clock."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.now = ManualClock()
        self.feed = feed()
        self.feed._port = self

    async def open(self) -> None: ...
    async def close(self) -> None: ...
    async def run(self, receiver: object, now_us: object) -> None:
        await asyncio.Event().wait()

    async def post(self, event: Event) -> str | None:
        self.said.append(event.kind)
        return None

    async def up(self) -> None:
        self.said.append("up")

    async def goes_on(self, by_us: int) -> list[str]:
        """Let time pass, and whatever is ready be posted."""
        self.now.move(self.now.now() + timedelta(microseconds=by_us))
        self.feed.pass_time(self.now.now_us(ZERO))
        for _ in range(20):
            await asyncio.sleep(0)
        return self.said

    def read(self, signs: str) -> None:
        at_us = self.now.now_us(ZERO)
        for (place, _, _), sign in zip(WIRES, signs, strict=False):
            self.feed.read(place, at_us, at_us, closed=sign == "1")


@asynccontextmanager
async def talk() -> AsyncIterator[Talk]:
    talking = Talk()
    task = asyncio.create_task(talking.feed.run(talking.post, talking.now, talking.up))
    await asyncio.sleep(0)
    yield talking
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_a_feed_is_up_once_what_it_found_is_posted() -> None:
    """Until then nobody can know that a start, which it is about to tell of, is missing."""
    async with talk() as talking:
        talking.read("11100")
        assert await talking.goes_on(5 * MS) == []
        said = await talking.goes_on(50 * MS)
        assert [kind for kind in said if kind != "note"] == ["motor_start", "lamp_lit", "douser_open", "up"]
        talking.read("01100")
        assert (await talking.goes_on(50 * MS))[-1] == "motor_stop"


async def test_a_feed_with_a_contact_that_is_not_known_is_up_soon() -> None:
    """A box whose one input is broken does not keep the others silent."""
    async with talk() as talking:
        talking.read("0000")
        assert "up" not in await talking.goes_on(FOUND_US - S)
        assert (await talking.goes_on(S))[-1] == "up"
