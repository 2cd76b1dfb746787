"""Plays a recording into a run: by the run's clock, which may be fast, or one step at a time."""

import asyncio
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Protocol, TypeAlias

from adapters.base import Post, RunClock, Sleep, Tell, Up
from server.timeline.events import Event, Rejected

LATE_S = 2.0
"""An event this much behind the run's clock is told as late. Chosen: a clock at 20 times life is read that unevenly."""

_MICROSECOND = timedelta(microseconds=1)

Move: TypeAlias = Callable[[datetime], None]
"""Sets a run's clock to a time."""


class Pace(Protocol):
    """Decides when the next event is due."""

    async def wait(self, moment: datetime, clock: RunClock) -> None:
        """Return when an event of that moment may be posted."""


class ByClock:
    """Lets each event go when the run's clock reaches its time, at whatever rate that clock runs.

    `zero` is any instant near the show, such as the plan's.
    """

    def __init__(self, zero: datetime, sleep: Sleep = asyncio.sleep) -> None:
        self._zero = zero
        self._sleep = sleep

    async def wait(self, moment: datetime, clock: RunClock) -> None:
        """Sleep until then; not at all if that has been."""
        at_us = (moment - self._zero) // _MICROSECOND
        while (left_s := clock.seconds_until(at_us, self._zero)) > 0.0:
            await self._sleep(left_s)


class ByStep:
    """Lets one event go for every `step`.

    `move` gets the time of each event just before. Whoever holds the run's clock sets it there, for a run refuses
    events from its future.
    """

    def __init__(self, move: Move) -> None:
        self._move = move
        self._steps = asyncio.Semaphore(0)

    def step(self, events: int = 1) -> None:
        """Let that many more events go."""
        for _ in range(events):
            self._steps.release()

    async def wait(self, moment: datetime, clock: RunClock) -> None:  # noqa: ARG002 (a pace is given the clock)
        """Wait for a step."""
        await self._steps.acquire()
        self._move(moment)


class RecordingFeed:
    """A feed of events that are all known beforehand: a recording that was read, or a drill.

    They are posted in the order in which they were written down. Rejected lines, events that came late and events that
    the run refused are told, one sentence each. Late ones that follow each other are told together. Run again after it
    was interrupted, it goes on with the event after the last one answered.
    """

    source = "recording"

    def __init__(self, events: Sequence[Event], pace: Pace, tell: Tell, rejected: Sequence[Rejected] = ()) -> None:
        self._events = sorted(events, key=lambda event: (event.t, event.id))
        self._pace = pace
        self._tell = tell
        self._rejected = list(rejected)
        self._next = 0
        self._late: list[float] = []

    async def open(self) -> None:
        """Tell once which lines of the recording were rejected."""
        for line in self._rejected:
            self._tell(f"line {line.line}: {line.text}")
        self._rejected.clear()

    async def run(self, post: Post, clock: RunClock, up: Up) -> None:
        """Post every event at its time; returns after the last."""
        await up()
        while self._next < len(self._events):
            event = self._events[self._next]
            await self._pace.wait(event.t, clock)
            self._note_late((clock.now() - event.t).total_seconds())
            refused = await post(event)
            self._next += 1
            if refused is not None:
                self._tell(f"{event.id} was refused: {refused}")
        self._tell_late()

    async def close(self) -> None:
        """Nothing is held."""

    def _note_late(self, behind_s: float) -> None:
        if behind_s > LATE_S:
            self._late.append(behind_s)
        else:
            self._tell_late()

    def _tell_late(self) -> None:
        if self._late:
            events = "1 event" if len(self._late) == 1 else f"{len(self._late)} events"
            self._tell(f"{events} came late, by up to {max(self._late):.1f} s")
            self._late.clear()
