"""All contacts of one run: its feeds, how they stand, and its roll call."""

from datetime import datetime
from typing import Any, Final

from adapters.base import Answer, EventIds, Post, RunClock, RunFacts
from adapters.contacts.feed import ContactFeed
from adapters.contacts.kinds import FeedWiring
from adapters.contacts.rollcall import RollCall, Row
from adapters.contacts.wiring import Wiring
from server.timeline.events import Event
from server.timeline.plan import Plan

SOURCE: Final = "contact:rollcall"
"""The source of a roll call's result."""

STAYS_ON_US: Final = 30_000_000
"""A motor's contact that stays on for so long in a roll call is no trial of it: a show has begun. Chosen."""

RUNNING: Final = (
    "A motor is known to run: a roll call would keep its contacts from the show. If none does, its contact or its"
    " wiring is wrong: take back its start, or stop the server and use festoon contacts."
)
BEGUN: Final = "A roll call began: contacts make no events until it ends."
ENDED: Final = "The roll call ended: contacts count again."


class Board:
    """The contacts of one run. `feeds` are to be kept going; `post` takes the result of a roll call.

    A roll call ends by hand, when every input has been seen, when nothing has moved for long, when a motor is known to
    run, and when a motor's contact that came on in it stays on. Then contacts count again, and what is otherwise than
    the log says is posted.
    """

    def __init__(self, wiring: Wiring, plan: Plan, facts: RunFacts, clock: RunClock, post: Post) -> None:
        self.roll = RollCall(wiring.inputs)
        self._plan = plan
        self._facts = facts
        self._clock = clock
        self._post = post
        self._begun_us = 0
        self._held = False
        self.feeds = [self._feed(feed, clock.now()) for feed in wiring.feeds]

    def begin(self, *, ask_next: bool = False) -> str | None:
        """Begin a roll call. Gives why not, None where it has begun."""
        if self._facts.any_running():
            return RUNNING
        if not self.roll.on:
            self._begun_us = self._now_us()
            self._note(BEGUN)
        self.roll.begin(self._now_us(), ask_next=ask_next)
        self._held = True
        return None

    def ask(self, input_id: str | None) -> str | None:
        """Say which input is going to be closed, None for any. Gives why that cannot be."""
        if not self.roll.on:
            return "No roll call is on: begin one."
        if input_id is not None and input_id not in self.roll.rows:
            return f"found {input_id!r}; accepted an input of the wiring file"
        self.roll.ask(input_id)
        return None

    def skip(self) -> str | None:
        """Leave the input that was asked for, and ask for the next. Gives why that cannot be."""
        if not self.roll.on:
            return "No roll call is on: begin one."
        self.roll.skip()
        return None

    def end(self) -> None:
        """End the roll call; one that is not on is left as it is."""
        if self.roll.on:
            motor_us = self._muted_motor_us()
            self.roll.end()
            self._note(ENDED)
            for feed in self.feeds:
                feed.resume(self._begun_us, self._now_us(), motor_us)

    def look(self, now_us: int) -> None:
        """End a roll call that is over. To be called about once a second."""
        if self.roll.on and (self.roll.is_over(now_us) or self._facts.any_running() or self._motor_stays_on(now_us)):
            self.end()

    def hear(self, line: str) -> None:
        """Take a line of whoever leads the roll call: the input to be closed next, `end`, or nothing to skip one."""
        if line == "end":
            self.end()
        elif not line:
            self.skip()
        else:
            self.ask(line)

    async def keep(self, by: str | None = None) -> Answer:
        """Write the result down with the run. Gives why it was refused, None where it is on the log."""
        if not self._held:
            return "No roll call has been held: begin one."
        return await self._post(rollcall_event(self._clock.now(), self._result(), by))

    def state(self) -> dict[str, Any]:
        """How the contacts stand, as plain values; `result` is None while no roll call has been held."""
        return {
            "on": self.roll.on,
            "asked": self.roll.asked,
            "result": self._result() if self._held else None,
            "strays": list(self.roll.strays),
            "feeds": [_feed_row(each) for each in self.feeds],
            "inputs": [_row(row) for row in self.roll.rows.values()],
        }

    def _result(self) -> str:
        ticks_us = {each.feed.id: each.bank.sampling.tick_us() for each in self.feeds}
        return self.roll.text([f"{id_} about every {us // 1000} ms" for id_, us in ticks_us.items() if us is not None])

    def _motor_stays_on(self, now_us: int) -> bool:
        since_us = self._muted_motor_us()
        return since_us is not None and now_us - since_us >= STAYS_ON_US

    def _muted_motor_us(self) -> int | None:
        return min((us for feed in self.feeds if (us := feed.bank.muted_motor_us()) is not None), default=None)

    def _feed(self, feed: FeedWiring, now: datetime) -> ContactFeed:
        return ContactFeed(feed, self._plan, self._facts, self.roll, now, self.look)

    def _note(self, text: str) -> None:
        self.feeds[0].bank.note(SOURCE, text, self._now_us())

    def _now_us(self) -> int:
        return self._clock.now_us(self._plan.zero)


def rollcall_event(now: datetime, result: str, by: str | None) -> Event:
    """The result of a roll call, as it is kept with a run."""
    return Event(id=EventIds(SOURCE, now).new(), t=now, kind="note", source=SOURCE, by=by, text=result)


def _feed_row(each: ContactFeed) -> dict[str, Any]:
    tick_us = each.bank.sampling.tick_us()
    return {
        "id": each.feed.id,
        "kind": each.feed.kind.name,
        "port": each.feed.address,
        "fault": each.fault,
        "sampling_ms": each.feed.sampling_us // 1000,
        "seen_sampling_ms": None if tick_us is None else tick_us // 1000,
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "id": row.wired.id,
        "station": row.wired.station,
        "what": row.wired.what,
        "on": row.on,
        "closes": row.closes,
        "seen": row.seen,
        "edges": row.edges,
        "bounced_ms": row.bounced_ms,
        "bounces": row.bounces,
        "flickers": row.flickers,
        "instead": list(row.instead),
    }
