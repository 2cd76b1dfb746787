"""A feed holds no more than it can be let go with: what waits to be written down is bounded."""

import asyncio

import pytest

from adapters.base import FeedFault
from adapters.contacts.feed import MOST_WAITING, ContactFeed
from adapters.contacts.rollcall import RollCall
from server.clock import Clock
from server.timeline.events import Event
from tests.adapters.contacts.wired import PLAN, Facts, wiring
from tests.adapters.shows import ZERO


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
    running = asyncio.create_task(full.run(post, Clock(ZERO)))
    while full.fault is None or not full.fault[0].isdigit():  # noqa: ASYNC110 - the feed sets no event of ours
        await asyncio.sleep(0.01)
    assert not running.done()
    log.set()
    with pytest.raises(FeedFault):
        await running
    assert [event.text for event in posted][:3] == ["note 0", "note 1", "note 2"]
    assert len(posted) >= MOST_WAITING + 1
    assert not full.bank.events
