"""The part of the composition root that puts contacts together: kinds of port, a run's board, a roll call alone."""

import asyncio
import threading
from collections.abc import Callable, Coroutine, Iterable, Iterator, Mapping
from contextlib import suppress
from typing import Any

from adapters.base import Answer, Backoff, RunClock, supervise
from adapters.contacts import modbus, modem, text
from adapters.contacts.board import Board, rollcall_event
from adapters.contacts.kinds import Kind
from adapters.contacts.wiring import Wiring, WiringFaults, read_wiring
from server.clock import Clock
from server.live import LiveRun
from server.live_facts import LiveFacts, NoFacts
from server.posting import post_to
from server.timeline.events import Event
from server.timeline.plan import Plan

__all__ = [
    "CONTACT_KINDS",
    "Board",
    "RollCallHere",
    "Wiring",
    "WiringFaults",
    "board_of",
    "hear_lines",
    "kept_going",
    "rollcall_event",
    "serial_ports",
    "wiring_from_text",
]

CONTACT_KINDS: Mapping[str, Kind] = {kind.name: kind for kind in (text.KIND, modem.KIND, modbus.KIND)}
"""The kinds of port that a wiring file may name: a new one is its file, and its entry here."""

BACKOFF = Backoff(longest_s=2.0)
"""A gateway that is back is noticed at once, in mid-show. Chosen."""

SHOWN_S = 0.1
"""How often a roll call in the terminal is drawn. Chosen."""

Work = Coroutine[Any, Any, None]
State = dict[str, Any]


def wiring_from_text(text: str, name: str, plan: Plan) -> Wiring:
    """Read a wiring file for a plan; `name` is what messages call it. Raises WiringFaults."""
    return read_wiring(text, name, plan, CONTACT_KINDS)


def board_of(run: LiveRun, clock: RunClock, wiring: Wiring) -> Board:
    """The contacts of a run, which need not have started yet."""
    return Board(wiring, run.plan, LiveFacts(run), clock, post_to(run))


def kept_going(run: LiveRun, clock: RunClock, board: Board) -> Iterator[Work]:
    """The work that brings a run what its contacts do, one for each feed."""
    return (supervise(feed, post_to(run), clock, BACKOFF) for feed in board.feeds)


class RollCallHere:
    """A roll call in this process, without a run: it opens the ports of `wiring` itself.

    `state` is as `Board.state`, as it was when the roll call ended.
    """

    def __init__(self, wiring: Wiring, plan: Plan, *, ask_next: bool) -> None:
        self.state: State = {}
        self._clock = Clock()
        self._board = Board(wiring, plan, NoFacts(), self._clock, _left_unposted)
        self._board.begin(ask_next=ask_next)

    def hold(self, show: Callable[[State], None], said: Iterable[str]) -> None:
        """Hold it until it is over or ended; `show` is given its state, `said` are the lines of whoever leads it."""
        asyncio.run(self._hold(show, said))

    async def _hold(self, show: Callable[[State], None], said: Iterable[str]) -> None:
        work = [supervise(feed, _left_unposted, self._clock, BACKOFF) for feed in self._board.feeds]
        feeds = [asyncio.create_task(each) for each in work]
        hear_lines(said, self._board.hear)
        try:
            while self._board.roll.on:
                show(self._board.state())
                await asyncio.sleep(SHOWN_S)
        finally:
            self._board.end()
            self.state = self._board.state()
            for feed in feeds:
                feed.cancel()
            await asyncio.gather(*feeds, return_exceptions=True)


def hear_lines(said: Iterable[str], hear: Callable[[str], object]) -> None:
    """Have `hear` called in this loop with every line of `said`, which may take its time."""
    loop = asyncio.get_running_loop()

    def listen() -> None:
        for line in said:
            with suppress(RuntimeError):  # the loop has ended, and with it whatever heard
                loop.call_soon_threadsafe(hear, line.strip())

    threading.Thread(target=listen, daemon=True).start()


async def _left_unposted(_event: Event) -> Answer:
    """There is no run to post to."""
    return None


def serial_ports() -> list[tuple[str, str]]:
    """The serial ports of this computer: address and description."""
    from serialx import list_serial_ports  # noqa: PLC0415 - a command that opens no port does not wait for it

    return [(port.device, port.description) for port in list_serial_ports()]
