"""A feed that is kept going as in a server, and everything that it posts."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import timedelta

import pytest

from adapters.base import Backoff, FeedFault, supervise
from adapters.contacts.feed import ContactFeed
from adapters.contacts.rollcall import RollCall
from server.clock import Clock
from server.timeline.events import Event
from tests.adapters.contacts.peers import until
from tests.adapters.contacts.wired import PLAN, Facts, wiring
from tests.adapters.shows import ZERO

BACKOFF = Backoff(first_s=0.02, factor=1.0, healthy_s=0.0)

AROUND_ZERO = pytest.mark.parametrize(
    ("start_s", "later_s"), [(-3600.0, -3600.0), (3600.0, 3600.0), (-2.0, 0.02)], ids=["ahead", "past", "in the middle"]
)
"""When a test starts, in seconds after the plan's zero, and when its second half does."""


class Show:
    """A run that takes everything one feed posts, and knows it."""

    def __init__(self, feed: ContactFeed, facts: Facts, clock: Clock) -> None:
        self.feed = feed
        self.facts = facts
        self.clock = clock
        self.events: list[Event] = []
        self._tries = 0

    async def wait(self, seconds: float) -> None:
        """What the supervisor does before it opens the port again."""
        self._tries += 1
        await asyncio.sleep(seconds)

    async def tries(self, times: int) -> None:
        """Wait until its port has been given up so many times from now on, to be opened again after each."""
        enough = self._tries + times
        await until(lambda: self._tries >= enough)

    async def post(self, event: Event) -> str | None:
        self.events.append(event)
        if event.station is not None:
            self.facts.events.append(event)
        return None

    def said(self) -> list[str]:
        """The kinds of what was posted, but for notes."""
        return [event.kind for event in self.events if event.kind != "note"]

    def notes(self) -> list[str]:
        return [event.text or "" for event in self.events if event.kind == "note"]

    def count(self, kind: str) -> int:
        return self.said().count(kind)

    def last(self, kind: str) -> Event:
        return next(event for event in reversed(self.events) if event.kind == kind)

    def levels(self) -> dict[str, bool | None]:
        """What is known of each wire, by its place."""
        return {place: wire.on for place, wire in self.feed.bank.wires.items()}

    async def has(self, kind: str, times: int = 1) -> None:
        await until(lambda: self.count(kind) >= times)

    async def knows(self, *on: str) -> None:
        """Wait until these wires are known to be on, all others to be off, and the feed is told to be up."""
        await until(lambda: self.is_up() and self.levels() == {place: place in on for place in self.levels()})

    def is_up(self) -> bool:
        """Whether the feed was last told to be up."""
        told = [event.kind for event in self.events if event.source == self.feed.source and event.kind != "note"]
        return told[-1:] == ["feed_up"]

    async def sigmas(self, kind: str, change: Callable[[], None]) -> float:
        """Make a change and wait for its event: how far that is from when it happened, in its own sigma_s, at most."""
        times = self.count(kind)
        before = self.clock.now()
        change()
        after = self.clock.now()
        await self.has(kind, times + 1)
        event = self.last(kind)
        error_s = max((after - event.t).total_seconds(), (event.t - before).total_seconds())
        return error_s / (event.sigma_s or PLAN.timing.contact_sigma_s)

    async def goes_on(self, seconds: float) -> None:
        """Wait until the run's time is so many seconds later than now."""
        await self.is_past(self.clock.now_us(ZERO) / 1e6 + seconds)

    async def is_past(self, seconds: float) -> None:
        """Wait until the run's time is so many seconds after the plan's zero, if it was not."""
        await until(lambda: self.clock.now_us(ZERO) > seconds * 1e6)


@asynccontextmanager
async def show(feed: str, wires: list[tuple[str, str, str]], start_s: float = 0.0) -> AsyncIterator[Show]:
    """The feed that is written so in a wiring file, from `start_s` after the plan's zero on."""
    made = wiring(f'id = "north"\n{feed}', wires)
    facts, clock = Facts(), Clock(ZERO + timedelta(seconds=start_s))
    shown = Show(ContactFeed(made.feeds[0], PLAN, facts, RollCall(made.inputs), clock.now()), facts, clock)
    task = asyncio.create_task(supervise(shown.feed, shown.post, clock, BACKOFF, shown.wait))
    try:
        yield shown
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def why_not(feed: str, place: str) -> str:
    """Why the port of a feed, written so in a wiring file, cannot be opened."""
    made = wiring(f'id = "north"\n{feed}', [(place, "s0", "motor")]).feeds[0]
    port = made.make_port([place])
    with pytest.raises(FeedFault) as fault:
        await port.open()
    await port.close()
    return str(fault.value)
