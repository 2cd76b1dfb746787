"""Networks between a tablet and its server that are slow, stand still, break off, refuse, or deliver half a message."""

import asyncio
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import NamedTuple

from server.timeline.events import time_from_rfc3339
from tests.bench.faults.proxy import Proxy, proxied
from tests.bench.faults.stage import PATIENCE_S, Outcome, Place, Served, forked
from tests.bench.faults.tablet import SILENT_S, Tablet

DELAY_S = 0.4
AWAY_S = 6.0
"""Longer than a desk waits until it says so, and until it gives the connection up."""

BETWEEN_S = 0.4
LATE_S = 0.5
"""What a loaded computer may add to the seconds in which a desk has to learn that the server is gone. Chosen."""


class Came(NamedTuple):
    """What came of a network: so many times it was bad, so often something was otherwise than stated."""

    tries: int
    wrong: int
    note: str


Befalls = Callable[[Proxy, Tablet, int], Awaitable[Came]]


def delayed(folder: Path) -> Outcome:
    """Everything takes 0.4 s each way: nobody is told that the server is gone."""
    return _through("network is slow, 0.4 s each way", folder, _slow, 1)


def stalled(folder: Path) -> Outcome:
    """Nothing gets through for six seconds, and nothing says so."""
    return _through("network stands still for 6 s", folder, _still, 2)


def refused(folder: Path) -> Outcome:
    """Every connection is reset, and so is each that is tried, for six seconds."""
    return _through("network refuses for 6 s", folder, _refusing, 2)


def broken(folder: Path, tries: int) -> Outcome:
    """The connection is reset at any moment."""
    return _through("connection reset", folder, _breaking, tries)


def halved(folder: Path, tries: int) -> Outcome:
    """Half of what is said gets through, to the server or to the tablet, and then the connection breaks."""
    return _through("half a message, then a reset", folder, _halving, tries)


def _through(fault: str, folder: Path, befalls: Befalls, tries: int) -> Outcome:
    place = Place(folder)
    with forked(place) as server:
        tablet, came = asyncio.run(_tapped(server, befalls, tries))
        run_id = server.run_id
    stored = [event for event in place.events(run_id) if event.id in tablet.tapped]
    ids = [event.id for event in stored]
    lost, doubled = len(tablet.tapped.keys() - set(ids)) + len(tablet.kept), len(ids) - len(set(ids))
    moved = sum(event.t != time_from_rfc3339(tablet.tapped[event.id]) for event in stored)
    jumbled = ids != list(tablet.tapped)
    unsaid = came.wrong + moved + jumbled + tablet.torn + len(tablet.refused)
    note = f"{came.note}; {tablet.opened} connections"
    return Outcome(fault, came.tries, len(tablet.taken), lost, 0, doubled, unsaid, note)


async def _tapped(server: Served, befalls: Befalls, tries: int) -> tuple[Tablet, Came]:
    """Tap through it all; then wait until all that was tapped is answered."""
    async with proxied(server.host) as proxy:
        tablet = Tablet(proxy, server.path)
        living = [asyncio.create_task(one) for one in (tablet.live(), tablet.watch())]
        tapping = asyncio.create_task(tablet.tap())
        await _until(lambda: len(tablet.taken) > 10)
        came = await befalls(proxy, tablet, tries)
        tapping.cancel()
        begun = time.monotonic()
        await _until(lambda: not tablet.kept)
        came = came._replace(note=f"{came.note}; all sent {time.monotonic() - begun:.1f} s after")
        for task in living:
            task.cancel()
        await asyncio.gather(*living, tapping, return_exceptions=True)
        return tablet, came


async def _slow(proxy: Proxy, tablet: Tablet, tries: int) -> Came:
    proxy.delay_s = DELAY_S
    await asyncio.sleep(AWAY_S)
    proxy.delay_s = 0.0
    return Came(tries, len(tablet.lost_at), f"told as gone {len(tablet.lost_at)} times")


async def _still(proxy: Proxy, tablet: Tablet, tries: int) -> Came:
    def begin() -> None:
        proxy.stalled = True

    def end() -> None:
        proxy.stalled = False

    return await _away(tablet, tries, begin, end)


async def _refusing(proxy: Proxy, tablet: Tablet, tries: int) -> Came:
    def begin() -> None:
        proxy.refusing = True
        proxy.reset()

    def end() -> None:
        proxy.refusing = False

    return await _away(tablet, tries, begin, end)


async def _away(tablet: Tablet, tries: int, begin: Callable[[], None], end: Callable[[], None]) -> Came:
    """The desk has to learn in the stated seconds that the server is gone, and hear it again once it is back."""
    learnt_s, back_s, wrong = [], [], 0
    for _ in range(tries):
        begun, told = time.monotonic(), len(tablet.lost_at)
        begin()
        await asyncio.sleep(AWAY_S)
        end()
        ended = time.monotonic()
        learnt_s += [at - begun for at in tablet.lost_at[told : told + 1]]
        await _until(lambda ended=ended: tablet.heard_at > ended)  # type: ignore[misc]
        back_s.append(tablet.heard_at - ended)
        wrong += len(tablet.lost_at) == told
        await asyncio.sleep(BETWEEN_S)
    wrong += sum(one > SILENT_S + LATE_S for one in learnt_s)
    return Came(
        tries, wrong, f"learnt after {max(learnt_s, default=-1):.1f} s, heard {max(back_s):.1f} s after it ended"
    )


async def _breaking(proxy: Proxy, tablet: Tablet, tries: int) -> Came:
    for number in range(tries):
        opened = tablet.opened
        proxy.reset()
        await _until(lambda opened=opened: tablet.opened > opened)  # type: ignore[misc]
        await asyncio.sleep(BETWEEN_S * (number % 4) / 4)
    return Came(tries, len(tablet.lost_at), f"told as gone {len(tablet.lost_at)} times")


async def _halving(proxy: Proxy, tablet: Tablet, tries: int) -> Came:
    for number in range(tries):
        opened, answered = tablet.opened, len(tablet.taken)
        proxy.halve["up" if number % 2 else "down"] = 1
        await _until(lambda opened=opened: tablet.opened > opened)  # type: ignore[misc]
        await _until(lambda answered=answered: len(tablet.taken) > answered)  # type: ignore[misc]
    return Came(tries, len(tablet.lost_at), f"told as gone {len(tablet.lost_at)} times")


async def _until(true: Callable[[], object]) -> None:
    """Let it go on until something is true; after a while go on all the same, and let the figures say so."""
    end = time.monotonic() + PATIENCE_S
    while not true() and time.monotonic() < end:  # noqa: ASYNC110 - the server is another process
        await asyncio.sleep(0.01)
