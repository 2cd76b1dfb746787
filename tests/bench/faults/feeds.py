"""A box of contacts that floods, hangs in the middle of a line, or dies in one, beside somebody who taps."""

import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

from adapters.contacts.pretend.box import TextBox, check_of
from server.timeline.events import Event
from tests.bench.faults.plug import LEVELS_S, Plug
from tests.bench.faults.stage import Outcome, Place, Served, forked, until
from tests.bench.faults.tapping import Befallen, tapped_through

SECONDS = 8.0
SILENT_S = 1.0
TOLD_S = SILENT_S + 3.0
"""In which a port that is silent is told: what the wiring says, and what a loaded computer takes. Chosen."""

BACK_S = 5.0
"""In which a port that is there again is heard: a try every 2 s at the latest. Chosen: twice that, and a little."""

MOST_EVENTS = 60
"""What a flood may leave in the log. Chosen: flicker is held after four changes, and told in few notes."""

AFTER_S = 5.0
"""In which a motor that starts after a flood is told. Chosen: what came before it is worth nothing any more."""

MOTOR, LAMP, OTHER_MOTOR = 1, 2, 3


class Box:
    """A box that says its levels and its changes, until it is told otherwise."""

    def __init__(self) -> None:
        self.plug = Plug()
        self._box = TextBox(self.plug, inputs=3)
        self._lock = threading.Lock()
        self._over = threading.Event()
        self.flooding = self.hanging = False
        self._threads = [threading.Thread(target=each, daemon=True) for each in (self._accept, self._say)]

    def change(self, number: int, *, closed: bool) -> None:
        """An input goes over."""
        with self._lock:
            self._box.change(number, closed)

    def half(self) -> None:
        """Half a line."""
        with self._lock:
            self.plug.send(b"C 17 ")

    def begin(self) -> None:
        """Switch it on."""
        for thread in self._threads:
            thread.start()

    def end(self) -> None:
        """Switch it off for good."""
        self._over.set()
        self.plug.die()
        for thread in self._threads:
            thread.join()

    def _accept(self) -> None:
        while not self._over.wait(0.02):
            self.plug.take()

    def _say(self) -> None:
        garbage = random.Random(1).randbytes(1 << 14) + b"\n"
        lines = b"".join(_line(number) for number in range(1, 3000)) + garbage
        while not self._over.wait(0.0 if self.flooding else LEVELS_S):
            with self._lock:
                if self.flooding:
                    self.plug.send(lines)
                elif not self.hanging:
                    self._box.all_levels()


def _line(number: int) -> bytes:
    text = f"C {number} {LAMP} {number % 2}"
    return f"{text} *{check_of(text)}\n".encode("ascii")


class Seen(NamedTuple):
    """The box, the log of the run that it is wired to, and who asks."""

    box: Box
    place: Place
    server: Served

    def events(self) -> list[Event]:
        """What is in the log."""
        return self.place.events(self.server.run_id)

    def many(self, kind: str, about: str) -> int:
        """How many events of a kind are of that station or source."""
        return sum(event.kind == kind and about in {event.station, event.source} for event in self.events())

    def within(self, kind: str, about: str, within_s: float, there_were: int = 0) -> float | None:
        """How long until there is one more of them than there were; None where there is none by then."""
        return until(lambda: self.many(kind, about) > there_were, within_s)


Does = Callable[[Seen], Callable[[], Befallen]]


def floods(folder: Path) -> Outcome:
    """It sends changes and nonsense as fast as they are taken."""
    return _beside("a box of contacts floods", folder, _flood)


def hangs(folder: Path) -> Outcome:
    """It stops in the middle of a line, and the connection stays open."""
    return _beside("a box of contacts hangs in mid-line", folder, _hang)


def dies(folder: Path) -> Outcome:
    """It loses its power in the middle of a line, and a motor starts meanwhile."""
    return _beside("a box of contacts dies in mid-line", folder, _die)


def _beside(fault: str, folder: Path, does: Does) -> Outcome:
    place, box = Place(folder), Box()
    wiring = folder / "north.contacts.toml"
    wiring.write_text(_wiring(box.plug.listen()), encoding="utf-8")
    box.begin()
    try:
        with forked(place, "--contacts", wiring) as server:
            seen = Seen(box, place, server)
            seen.within("feed_up", "contact:north", BACK_S)
            return tapped_through(fault, place, server, partial(_befalls, does, seen), SECONDS)
    finally:
        box.end()


def _wiring(port: str) -> str:
    wires = ((MOTOR, "a", "motor"), (LAMP, "a", "lamp"), (OTHER_MOTOR, "b", "motor"))
    feed = f'[[feeds]]\nid = "north"\nkind = "text"\nport = "{port}"\nsilent_s = {SILENT_S}\n'
    return f'format = "festoon-contacts/1"\n{feed}' + "".join(
        f'[[inputs]]\nfeed = "north"\ninput = "{number}"\nstation = "{station}"\nwhat = "{what}"\n'
        for number, station, what in wires
    )


@contextmanager
def _befalls(does: Does, seen: Seen, _server: Served) -> Iterator[Callable[[], Befallen]]:
    yield does(seen)


def _flood(seen: Seen) -> Callable[[], Befallen]:
    seen.box.flooding = True

    def came() -> Befallen:
        seen.box.flooding = False
        left = sum(event.source.startswith("contact:") for event in seen.events())
        held = seen.many("feed_down", f"contact:north/{LAMP}")
        begun = time.monotonic()
        seen.box.change(MOTOR, closed=True)
        seen.within("motor_start", "a", 60.0)
        told_s = time.monotonic() - begun
        right = (held > 0) + (left < MOST_EVENTS) + (told_s < AFTER_S) + (seen.many("motor_start", "a") == 1)
        return Befallen(4, right, f"{left} events of it, a motor told {told_s:.1f} s after the flood")

    return came


def _hang(seen: Seen) -> Callable[[], Befallen]:
    seen.box.hanging = True
    seen.box.half()
    ups = seen.many("feed_up", "contact:north")
    down_s = seen.within("feed_down", "contact:north", TOLD_S)

    def came() -> Befallen:
        seen.box.hanging = False
        up_s = seen.within("feed_up", "contact:north", BACK_S, ups)
        seen.box.change(MOTOR, closed=True)
        told = seen.within("motor_start", "a", BACK_S)
        right = (down_s is not None) + (up_s is not None) + (told is not None) + (seen.many("motor_start", "a") == 1)
        return Befallen(4, right, f"told after {down_s or -1:.1f} s, back after {up_s or -1:.1f}")

    return came


def _die(seen: Seen) -> Callable[[], Befallen]:
    seen.box.change(MOTOR, closed=True)
    seen.within("motor_start", "a", BACK_S)
    ups = seen.many("feed_up", "contact:north")
    seen.box.half()
    seen.box.plug.die()
    seen.box.change(OTHER_MOTOR, closed=True)
    down_s = seen.within("feed_down", "contact:north", TOLD_S)

    def came() -> Befallen:
        seen.box.plug.listen()
        up_s = seen.within("feed_up", "contact:north", BACK_S, ups)
        seen.within("motor_start", "b", BACK_S)
        starts = [seen.many("motor_start", station) for station in "ab"]
        right = (down_s is not None) + (up_s is not None) + (starts[0] == 1) + (starts[1] == 1)
        return Befallen(4, right, f"told after {down_s or -1:.1f} s, back after {up_s or -1:.1f}")

    return came
