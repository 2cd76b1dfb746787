"""The port of a rehearsal: it lets the drill go on by a run's clock, and hears what is reported at the desks."""

import asyncio
from collections.abc import Callable
from typing import Final

from adapters.base import Post, RunClock, Sleep, Tell, Up
from adapters.drill.rehearsal import LOOKOUT, Rehearsal
from server.timeline.events import Event
from server.timeline.plan import Plan

_LONGEST_S: Final = 3600.0  # chosen: where nothing is to come, the clock is looked at now and then


class RehearsalFeed:
    """Posts what contacts and the simulated crew see, and the lookout's notes.

    `hear` is to be given every event that the run took, those of this feed too. `ended` is called once, when the drill
    ends by itself; what it gives back is written down as a note, for the desks. Film that nobody stopped stops then.
    """

    source = "recording:drill"

    def __init__(
        self, rehearsal: Rehearsal, plan: Plan, tell: Tell, ended: Callable[[], str], sleep: Sleep = asyncio.sleep
    ) -> None:
        self._rehearsal = rehearsal
        self._plan = plan
        self._tell = tell
        self._ended = ended
        self._sleep = sleep
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

    async def run(self, post: Post, clock: RunClock, up: Up) -> None:
        """Go on until the drill has ended."""
        await up()
        while self._rehearsal.end is None:
            self._wake.clear()
            await self._turn(post, clock)
            if self._rehearsal.end is None:
                await self._wait(clock)
        await self._post_review(post, clock)

    async def close(self) -> None:
        """Nothing is held."""

    async def _turn(self, post: Post, clock: RunClock) -> None:
        """What has happened by now, then what was reported, then what came of that at once."""
        now_s = clock.now_us(self._plan.zero) / 1e6
        events = self._rehearsal.advance(now_s)
        while self._waiting:
            self._rehearsal.take(self._waiting.pop(0))
        coming = [*events, *self._rehearsal.advance(now_s)]
        self._own |= {event.id for event in coming}
        for event in coming:
            if event.by == LOOKOUT:
                self._tell(f"{event.t.astimezone(self._plan.zone):%H:%M:%S}  {event.text}")
        # All at once: they are written down in this order, and what happened together is shown together.
        for event, refused in zip(coming, await asyncio.gather(*map(post, coming)), strict=True):
            if refused is not None:
                self._tell(f"{event.id} was refused: {refused}")

    async def _post_review(self, post: Post, clock: RunClock) -> None:
        event = Event(id="drill-review", t=clock.now(), kind="note", source=f"tap:{LOOKOUT}", text=self._ended())
        self._own.add(event.id)
        await post(event)
        # No desk may go on showing film that does not go on.
        for station in self._rehearsal.running:
            stop = Event(id=f"drill-end-{station}", t=event.t, kind="motor_stop", station=station, source=self.source)
            self._own.add(stop.id)
            await post(stop)

    async def _wait(self, clock: RunClock) -> None:
        """Sleep until something is to happen, or is reported."""
        if self._waiting:
            return
        next_s = self._rehearsal.next_s()
        left_s = _LONGEST_S if next_s is None else clock.seconds_until(round(next_s * 1e6) + 1, self._plan.zero)
        sleeping = asyncio.ensure_future(self._sleep(max(0.0, min(left_s, _LONGEST_S))))
        waking = asyncio.ensure_future(self._wake.wait())
        try:
            await asyncio.wait((sleeping, waking), return_when=asyncio.FIRST_COMPLETED)
        finally:
            sleeping.cancel()
            waking.cancel()
