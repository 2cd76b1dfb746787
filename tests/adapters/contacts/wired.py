"""A wired chain, what a run is made to know, and what the contacts of one feed make of their readings."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from adapters.base import ExpectedPass
from adapters.contacts import modbus, modem, text
from adapters.contacts.inputs import InputBank
from adapters.contacts.kinds import FeedWiring
from adapters.contacts.rollcall import RollCall
from adapters.contacts.wiring import Wiring, read_wiring
from server.timeline.events import Event
from tests.adapters.shows import ZERO, chain_plan

KINDS = {kind.name: kind for kind in (text.KIND, modem.KIND, modbus.KIND)}
PLAN = chain_plan(stations=2)
WIRES = [("1", "s0", "motor"), ("2", "s0", "lamp"), ("3", "s0", "douser"), ("4", "s0", "cue"), ("5", "s0", "failsafe")]
S = 1_000_000
MS = 1_000


def wiring_text(feeds: str = "", wires: Sequence[tuple[str, str, str]] = tuple(WIRES), more: str = "") -> str:
    """The text of a wiring file; the one feed is of lines of text unless another is given."""
    feeds = feeds or 'id = "north"\nkind = "text"\nport = "/dev/ttyUSB0"'
    inputs = "".join(
        f'[[inputs]]\nfeed = "north"\ninput = "{place}"\nstation = "{station}"\nwhat = "{what}"\n{more}\n'
        for place, station, what in wires
    )
    return f'format = "festoon-contacts/1"\n[[feeds]]\n{feeds}\n{inputs}'


def wiring(feeds: str = "", wires: Sequence[tuple[str, str, str]] = tuple(WIRES), more: str = "") -> Wiring:
    return read_wiring(wiring_text(feeds, wires, more), "north.contacts.toml", PLAN, KINDS)


class Facts:
    """What a run knows, as written down by a test."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.expected = [ExpectedPass("tail_end", False, 7_000 * S, 1.0)]
        self.heard: datetime | None = None
        self.running = False
        self.down: list[str] = []

    def standing(self, station: str) -> Sequence[Event]:
        return sorted((each for each in self.events if each.station == station), key=lambda each: each.t)

    def passes(self, station: str) -> Sequence[ExpectedPass]:
        return self.expected

    def heard_until(self, source: str) -> datetime | None:
        return self.heard

    def any_running(self) -> bool:
        return self.running

    def silent(self) -> Sequence[str]:
        return self.down

    def say(self, kind: str, at_s: float, station: str = "s0", source: str = "tap:pad", **keys: str) -> Event:
        """Have something on the log."""
        t = ZERO + timedelta(seconds=at_s)
        event = Event(id=f"e{len(self.events)}", t=t, kind=kind, station=station, source=source, **keys)  # type: ignore[arg-type]
        self.events.append(event)
        return event


class Box:
    """One feed's inputs with nothing in front of them: readings in, events out as (kind, seconds, sigma_s)."""

    def __init__(self, facts: Facts | None = None, made: FeedWiring | None = None) -> None:
        self.facts = facts or Facts()
        feed = made or wiring().feeds[0]
        self.roll = RollCall(feed.inputs)
        self.bank = InputBank(feed, PLAN, self.facts, self.roll, ZERO)
        self.bank.begin()

    def levels(self, at_us: int, signs: str) -> None:
        """All levels from input 1 on, as they were at one instant, and long enough after to settle."""
        for late_us in (at_us, at_us + 50 * MS):
            for number, sign in enumerate(signs, 1):
                self.bank.read(str(number), late_us, late_us, closed={"1": True, "0": False}.get(sign))

    def change(self, place: str, at_us: int, *, closed: bool) -> None:
        """A clean edge, and its settling."""
        self.bank.read(place, at_us, at_us, closed=closed)
        self.bank.settle(at_us + 50 * MS)

    def told(self) -> list[tuple[str, float, float | None]]:
        """What was made since the last time, but for notes; it is on the log from here on."""
        events = [event for event in self._taken() if event.kind != "note"]
        return [(event.kind, (event.t - ZERO).total_seconds(), event.sigma_s) for event in events]

    def notes(self) -> list[str]:
        """The notes made since the last time."""
        return [event.text or "" for event in self._taken() if event.kind == "note"]

    def both(self) -> tuple[list[str], list[str]]:
        """The kinds and the notes made since the last time."""
        events = self._taken()
        kinds: list[str] = [event.kind for event in events if event.kind != "note"]
        return kinds, [event.text or "" for event in events if event.kind == "note"]

    def _taken(self) -> list[Event]:
        events = list(self.bank.events)
        self.bank.events.clear()
        self.facts.events += [event for event in events if event.station is not None]
        return events
