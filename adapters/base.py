"""The one interface for everything that brings events to a run, and the supervisor that keeps it going.

An adapter is one file or folder in this package. It has two parts. The *pure* part turns bytes, levels or lines into
events. It knows neither clock nor port, so a test can feed it a byte at a time. The *port* is a `Feed`: it opens
something, reads it, and posts what the pure part made of it. An adapter imports this module and `server.timeline`
(events, plan, film), never another adapter; `server/assemble.py` is the only place that names it.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from typing import Literal, NamedTuple, Protocol, TypeAlias

from server.timeline.events import Event

Answer: TypeAlias = str | None
"""None when the event is on the log; otherwise why it was refused, in one sentence. A refusal is not an error."""

Post: TypeAlias = Callable[[Event], Awaitable[Answer]]
"""Hands one event to the run and waits until it is on the log or refused."""

Up: TypeAlias = Callable[[], Awaitable[None]]
"""Says that a feed is up: what it brings from here on is known as it happens, and what it found has been posted."""

Tell: TypeAlias = Callable[[str], None]
"""Takes one sentence for whoever runs the server."""

Sleep: TypeAlias = Callable[[float], Awaitable[None]]
"""Waits that many real seconds."""

log = logging.getLogger(__name__)


class FeedFault(Exception):
    """The outside world failed a feed: no port, no answer, a broken wire.

    The text is one sentence that says what was found; it is shown on the desks. Raise it from `open` or `run`, and the
    supervisor will come back. It is never for a bad message: skip that one, or tell it, and read on.
    """


class RunClock(Protocol):
    """The time of a run. It may run faster than a wall clock, so never mix it with another."""

    def now(self) -> datetime:
        """The run's time, with its zone."""

    def now_us(self, zero: datetime) -> int:
        """Microseconds of the run's time since `zero`."""

    def seconds_until(self, at_us: int, zero: datetime) -> float:
        """Real seconds to sleep until `at_us` after `zero`; 0 or less when that has been."""


class Feed(Protocol):
    """One source of events.

    `source` is written into its events: `contact:north`, `recording`; it is what an alarm about its silence names.
    The supervisor calls `open`, then `run`, and `close` after either, whatever happened. All three may be called again.
    """

    @property
    def source(self) -> str:
        """`tap`, `contact` or `recording`, with a name after a colon."""

    async def open(self) -> None:
        """Get hold of the port. Raises FeedFault when that cannot be done now."""

    async def run(self, post: Post, clock: RunClock, up: Up) -> None:
        """Post events until there are no more.

        Call `up` once in each run: at once, or where levels are read, when those that were found have been posted.
        Until then the feed counts as silent, so that no alarm rests on what it has not said yet. Returns only when
        nothing more will ever come. Raises FeedFault when the port is lost. Cancellation ends it at any await, so keep
        nothing half done. Give each event an id that no other of the run can have (`EventIds`).
        """

    async def close(self) -> None:
        """Let go of the port. Never raises; called also when `open` failed."""


class ExpectedPass(NamedTuple):
    """When a mark goes, or went, through a station's gate, in microseconds after the plan's zero, and how sure that is.

    `cue` says that a foil sits there. As the run estimates it; by the plan for a station whose motor has not started.
    """

    mark: str
    cue: bool
    at_us: int
    sd_s: float


class RunFacts(Protocol):
    """What a run knows already, for a feed that reads levels and has to find out what is new of them."""

    def standing(self, station: str) -> Sequence[Event]:
        """The events about a station that nobody has taken back, in order of when they happened.

        `chain_start` and `chain_stop` are among them where they may tell of its motor.
        """

    def passes(self, station: str) -> Sequence[ExpectedPass]:
        """Every mark of the print at a station, in film order."""

    def heard_until(self, source: str) -> datetime | None:
        """Until when that source was heard in the earlier lives of the server; None if it never was."""

    def any_running(self) -> bool:
        """Whether any motor is known to run."""

    def silent(self) -> Collection[str]:
        """The sources that were told as silent, and not as back."""


class EventIds:
    """Makes ids that stay unique over restarts: source, microseconds since 1970 at the start, running number."""

    def __init__(self, source: str, started: datetime) -> None:
        self._prefix = f"{source}-{int(started.timestamp() * 1e6):x}"
        self._numbers = count(1)

    def new(self) -> str:
        """The next id."""
        return f"{self._prefix}-{next(self._numbers)}"


@dataclass(frozen=True)
class Backoff:
    """How long the supervisor waits before it opens a feed again, in real seconds (chosen).

    Each wait is `factor` times the one before, up to `longest_s`. A feed that stayed up for `healthy_s` of the run's
    time starts again at `first_s`.
    """

    first_s: float = 0.5
    factor: float = 2.0
    longest_s: float = 30.0
    healthy_s: float = 30.0

    def wait_s(self, failures: int) -> float:
        """The wait after `failures` failures in a row, from 1."""
        return min(self.longest_s, self.first_s * self.factor ** min(failures - 1, 64))


class Supervisor:
    """Keeps one feed going, and posts `feed_up` and `feed_down` as it comes and goes."""

    def __init__(self, feed: Feed, post: Post, clock: RunClock, backoff: Backoff, sleep: Sleep) -> None:
        self._feed = feed
        self._post = post
        self._clock = clock
        self._backoff = backoff
        self._sleep = sleep
        self._ids = EventIds(feed.source, clock.now())
        self._up: bool | None = None
        self._up_since = clock.now()
        self._failures = 0

    async def run(self) -> None:
        """Open, run, wait and open again until the feed has nothing more to bring, or this is cancelled."""
        while (fault := await self._once()) is not None:
            self._count_failure()
            await self._say("feed_down", fault)
            await self._sleep(self._backoff.wait_s(self._failures))

    async def _once(self) -> str | None:
        """One life of the feed: None when it is finished, or what ended it."""
        try:
            await self._feed.open()
            await self._feed.run(self._post, self._clock, self._come_up)
            return None
        except FeedFault as fault:
            return str(fault)
        except Exception as error:  # an adapter's own mistake must not end the show for the others
            log.exception("feed %s failed", self._feed.source)
            return f"{type(error).__name__}: {error}"
        finally:
            await self._feed.close()

    async def _come_up(self) -> None:
        await self._say("feed_up", None)

    def _count_failure(self) -> None:
        up_s = (self._clock.now() - self._up_since).total_seconds() if self._up else 0.0
        self._failures = 1 if up_s >= self._backoff.healthy_s else self._failures + 1

    async def _say(self, kind: Literal["feed_up", "feed_down"], text: str | None) -> None:
        """Post that the feed came or went, once for each change."""
        up = kind == "feed_up"
        if up is self._up:
            return
        self._up = up
        now = self._up_since = self._clock.now()
        event = Event(id=self._ids.new(), t=now, kind=kind, source=self._feed.source, text=text)
        refused = await self._post(event)
        if refused is not None:
            log.warning("%s of %s was refused: %s", kind, self._feed.source, refused)


async def supervise(
    feed: Feed, post: Post, clock: RunClock, backoff: Backoff | None = None, sleep: Sleep = asyncio.sleep
) -> None:
    """Keep `feed` going until it has nothing more to bring; cancel the task to end it sooner.

    A feed that fails is closed, told as `feed_down` with the reason, and opened again after a wait that grows. Tests
    pass their own `sleep`.
    """
    await Supervisor(feed, post, clock, backoff or Backoff(), sleep).run()
