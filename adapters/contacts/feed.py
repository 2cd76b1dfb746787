"""A feed of contacts: its port, its inputs, and the events that are on their way to the run."""

import asyncio
import logging
from collections.abc import Callable
from datetime import datetime
from typing import Final

from adapters.base import FeedFault, Post, RunClock, RunFacts, Up
from adapters.contacts.inputs import InputBank
from adapters.contacts.kinds import FeedWiring, NowUs
from adapters.contacts.racing import first_of
from adapters.contacts.rollcall import RollCall
from adapters.contacts.telling import Complaints
from adapters.contacts.watch import Watch
from server.timeline.plan import Plan

LOOK_S: Final = 1.0
"""Between two looks at what is wrong with the contacts. Chosen."""

MOST_WAITING: Final = 2000
"""So many events may wait to be written down. Chosen: a minute of 64 inputs that flicker, and half a megabyte."""

FOUND_US: Final = 2_000_000
"""A feed counts as up after so long, also where a contact of it is not known. Chosen: a box sends all levels once a
second."""

log = logging.getLogger(__name__)


class ContactFeed:
    """A `Feed` of one port. `looked` is called about once a second with the run's time.

    `fault` says why the port is not there, None while it is. An event that could not be posted before the port was lost
    or the feed was cancelled is posted when it runs again. Where too many wait, the port is let go until they are down:
    what changed meanwhile is found when it is opened again.
    """

    def __init__(
        self,
        feed: FeedWiring,
        plan: Plan,
        facts: RunFacts,
        roll: RollCall,
        started: datetime,
        looked: Callable[[int], None] = lambda _now_us: None,
    ) -> None:
        self.feed = feed
        self.source = feed.source
        self.bank = InputBank(feed, plan, facts, roll, started)
        self.fault: str | None = "it has not been opened yet"
        self._plan = plan
        self._roll = roll
        self._watch = Watch(self.bank, facts)
        self._complaints = Complaints(self.bank)
        self._port = feed.make_port([each.place for each in feed.inputs])
        self._looked = looked
        self._look_us: int | None = None
        self._begun_us = 0
        self._found = False
        self._moved = asyncio.Event()
        self._ready = asyncio.Event()

    async def open(self) -> None:
        """Open the port. Raises FeedFault."""
        try:
            await self._port.open()
        except FeedFault as fault:
            self.fault = str(fault)
            raise
        self.fault = None

    async def run(self, post: Post, clock: RunClock, up: Up) -> None:
        """Post what the contacts do until the port is lost, which is a FeedFault."""

        def now_us() -> int:
            return clock.now_us(self._plan.zero)

        self.bank.begin()
        self._begun_us, self._found = now_us(), False
        try:
            await first_of(self._read(now_us), self._keep_time(now_us), self._post(post, up))
        except FeedFault:
            await self._post_ready(post)
            raise

    async def close(self) -> None:
        """Let go of the port; no level is known from here on."""
        await self._port.close()
        for wire in self.bank.wires.values():
            self._roll.rows[wire.wired.id].on = None

    def resume(self, since_us: int, now_us: int, motor_us: int | None) -> None:
        """Contacts count again, which they did not since `since_us`: what is otherwise now is posted."""
        self.bank.reconcile(since_us, now_us, motor_us)
        self._told()

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        """As `kinds.Receiver`."""
        self.bank.read(place, early_us, late_us, closed=closed)
        self._told()

    def tell(self, text: str, now_us: int, times: int = 1) -> None:
        """As `kinds.Receiver`."""
        self._complaints.tell(text, now_us, times)
        self._told()

    def silence(self, part: str, text: str | None, now_us: int) -> None:
        """As `kinds.Receiver`: a part that comes or goes is told as a feed of its own."""
        self.bank.silence(part, text, now_us)
        self._told()

    def due_us(self) -> int | None:
        """As `kinds.Receiver`."""
        return self.bank.due_us()

    def _told(self) -> None:
        self._moved.set()
        if self.bank.events:
            self._ready.set()

    async def _read(self, now_us: NowUs) -> None:
        try:
            await self._port.run(self, now_us)
        except FeedFault as fault:
            self.fault = str(fault)
            raise

    async def _keep_time(self, now_us: NowUs) -> None:
        """Let levels settle when they are due, and look after the contacts once a second."""
        while True:
            due_us = None if self.feed.kind.polled else self.bank.due_us()
            wait_s = LOOK_S if due_us is None else min(LOOK_S, max(0.0, (due_us - now_us()) / 1e6))
            try:
                async with asyncio.timeout(wait_s):
                    await self._moved.wait()
            except TimeoutError:
                pass
            self._moved.clear()
            self.pass_time(now_us())

    def pass_time(self, now_us: int) -> None:
        """It is `now_us`: let what is due happen."""
        if not self.feed.kind.polled:
            self.bank.settle(now_us)
        if self._look_us is None or now_us >= self._look_us:
            self._look_us = now_us + round(LOOK_S * 1e6)
            self._look(now_us)
            self._looked(now_us)
        self._find(now_us)
        if self.bank.events:
            self._ready.set()

    def _find(self, now_us: int) -> None:
        """What was found when the port was opened is ready to be posted once all levels are known, or not for long."""
        self.bank.come_back(now_us, FOUND_US)
        if not self._found and (self.bank.is_known() or now_us - self._begun_us >= FOUND_US):
            self._found = True
            self._ready.set()

    def _look(self, now_us: int) -> None:
        self._complaints.look(now_us)
        self.bank.look(now_us)
        if not self._roll.on:
            self._watch.look(now_us)
        if len(self.bank.events) > MOST_WAITING:
            self.fault = f"{len(self.bank.events)} events wait to be written down"
            raise FeedFault(self.fault)

    async def _post(self, post: Post, up: Up) -> None:
        is_up = False
        while True:
            await self._ready.wait()
            self._ready.clear()
            found = self._found
            await self._post_ready(post)
            if found and not is_up:
                is_up = True
                await up()

    async def _post_ready(self, post: Post) -> None:
        """Post all that is ready, in its order; none waits for the one before it, so that one commit takes them all.

        An event stays until it is answered: one that is posted again has its id, and is answered as it was.
        """
        while self.bank.events:
            events = list(self.bank.events)
            answers = await asyncio.gather(*(post(event) for event in events))
            for event, refused in zip(events, answers, strict=True):
                if self.bank.events and self.bank.events[0] is event:
                    self.bank.events.popleft()
                if refused is not None:
                    log.warning("%s of %s was refused: %s", event.kind, event.source, refused)
