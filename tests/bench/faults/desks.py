"""Desks that stall, come and go, talk nonsense, talk too much or stop in mid-sentence, beside somebody who taps."""

import multiprocessing
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from pathlib import Path

from tests.bench.faults import hostile
from tests.bench.faults.hostile import Hostile
from tests.bench.faults.stage import PATIENCE_S, Outcome, Place, Served, forked
from tests.bench.faults.tapping import Befallen, Befalls, tapped_through

SECONDS = 8.0
HALF_S = 13.0
"""Half a request has its 10 s (`server/desk/connections.py`)."""

_PROCESSES = multiprocessing.get_context("forkserver")


def stalling(folder: Path) -> Outcome:
    """They read nothing more once they have connected."""
    return _beside("twenty desks stop reading", folder, hostile.stall)


def reconnecting(folder: Path) -> Outcome:
    """They come back a hundred times a minute, each."""
    return _beside("ten desks reconnect 100 times a minute", folder, hostile.reconnect)


def nonsense(folder: Path) -> Outcome:
    """One says what is no message, as fast as it is answered."""
    return _beside("a desk talks nonsense", folder, hostile.talk_nonsense)


def no_utf8(folder: Path) -> Outcome:
    """One sends texts that are none, and comes back each time."""
    return _beside("a desk sends invalid UTF-8", folder, hostile.send_no_utf8)


def too_big(folder: Path) -> Outcome:
    """One sends ten megabytes at once, in one frame and in many, and comes back each time."""
    return _beside("a desk sends messages of 10 MB", folder, hostile.send_big)


def flooding(folder: Path) -> Outcome:
    """A program reports events of a contact over a websocket as fast as they are answered."""
    return _beside("a program floods with events", folder, hostile.flood)


def halves(folder: Path) -> Outcome:
    """Programs begin to report an event over HTTP, and stop in the middle of it."""
    return _beside("fifty programs stop in mid-request", folder, hostile.stop_midway, HALF_S)


def _beside(fault: str, folder: Path, who: Hostile, for_s: float = SECONDS) -> Outcome:
    place = Place(folder)
    with forked(place) as server:
        return tapped_through(fault, place, server, _elsewhere(who), for_s)


def _elsewhere(who: Hostile) -> Befalls:
    """The same in a process of its own: it must not take the time of whoever measures."""

    @contextmanager
    def befalls(server: Served) -> Iterator[Callable[[], Befallen]]:
        stop, (ours, theirs) = _PROCESSES.Event(), _PROCESSES.Pipe(duplex=False)
        process = _PROCESSES.Process(target=_run, args=(who, server.host, server.path, stop, theirs))
        process.start()
        theirs.close()

        def came() -> Befallen:
            stop.set()
            if not ours.poll(PATIENCE_S):
                raise TimeoutError(f"{who.__name__} did not stop")
            return Befallen(*ours.recv())

        try:
            yield came
        finally:
            process.kill()
            process.join()

    return befalls


def _run(who: Hostile, host: str, path: str, stop: Event, told: Connection) -> None:
    told.send(tuple(who(host, path, stop)))
