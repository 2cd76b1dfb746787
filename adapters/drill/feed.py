"""The port of a rehearsal: it lets the drill go on by a run's clock, and hears what is reported at the desks."""

import asyncio
from collections.abc import Callable
from typing import Final

from adapters.base import Post, RunClock, Tell
from adapters.drill.rehearsal import LOOKOUT, Rehearsal
from server.timeline.events import Event
from server.timeline.plan import Plan

_LONGEST_S: Final = 3600.0  # chosen: where nothing is to come, the clock is looked at now and then


class RehearsalFeed:
    """Posts what contacts and the simulated crew see, and the lookout's notes.

    `hear` is to be given every event that the run took, those of this feed too. `ended` is called once, when the drill
    ends by itself.
    """

    source = "recording:drill"

    def __init__(self, rehearsal: Rehearsal, plan: Plan, tell: Tell, ended: Callable[[], None]) -> None:
        self._rehearsal = rehearsal
        self._zero = plan.zero
        self._tell = tell
        self._ended = ended
        self._own: set[str] = set()
        self._waiting: list[Event] = []
        self._wake = asyncio.Event()
        self.reported: dict[str, Event] = {}

    def hear(self, event: Event) -> None:
        """Note an event that the run has taken; what a person reported has its effect at the next turn."""
        if event.id not in self._own and event.id not in self.reported and event.source != self.source:
            self.reported[event.id] = event
            self._waiting.append(event)
            self._wake.set()

    async def open(self) -> None:
        """Nothing is held."""

    async def run(self, post: Post, clock: RunClock) -> None:
        """Go on until the drill has ended."""
        while self._rehearsal.end is None:
            self._wake.clear()
            await self._turn(post, clock)
            if self._rehearsal.end is None:
                await self._wait(clock)
        self._ended()

    async def close(self) -> None:
        """Nothing is held."""

    async def _turn(self, post: Post, clock: RunClock) -> None:
        """What has happened by now, then what was reported, then what came of that at once."""
        now_s = clock.now_us(self._zero) / 1e6
        events = self._rehearsal.advance(now_s)
        while self._waiting:
            self._rehearsal.take(self._waiting.pop(0))
        for event in [*events, *self._rehearsal.advance(now_s)]:
            self._own.add(event.id)
            if event.by == LOOKOUT:
                self._tell(f"{event.text}")
            refused = await post(event)
            if refused is not None:
                self._tell(f"{event.id} was refused: {refused}")

    async def _wait(self, clock: RunClock) -> None:
        next_s = self._rehearsal.next_s()
        left_s = _LONGEST_S if next_s is None else clock.seconds_until(round(next_s * 1e6) + 1, self._zero)
        try:
            async with asyncio.timeout(max(0.0, min(left_s, _LONGEST_S))):
                await self._wake.wait()
        except TimeoutError:
            return
