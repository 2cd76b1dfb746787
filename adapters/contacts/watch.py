"""What is wrong with the contacts themselves: bounces, stuck contacts, contacts that contradict, parts that are silent.

Each is told once when it begins, as a note in the run's log, and not again until it has ended.
"""

from dataclasses import dataclass
from typing import Final

from adapters.base import RunFacts
from adapters.contacts.inputs import KINDS, InputBank, Wire

MINUTE_US: Final = 60_000_000
CHATTER_EDGES: Final = 20
"""So many edges that were no change, within a minute, are told. Chosen: five changes that bounce as contacts do."""

STUCK_CUE_US: Final = 10_000_000
"""A foil is gone after a frame or two: a cue contact that stays on for so long is stuck. Chosen."""

STUCK_MOTOR_US: Final = 900_000_000
"""A motor that runs so long after its tail is out has been left on, or its contact is stuck. Chosen."""

DISAGREE_US: Final = 5_000_000
"""How long a contact may differ from what is known before that is told: two sources tell of one thing within this."""


_SAME_TICK: Final = 1.25  # a tick that is no longer than this times what the file says is that one. Chosen


@dataclass(slots=True)
class _Told:
    """What was told of one wire and still holds."""

    window_ends_us: int | None = None
    spare_before: int = 0
    chatters: bool = False
    stuck: bool = False
    disagreed: str | None = None


class Watch:
    """Looks after the inputs of one feed. `look` is to be called about once a second, with the run's time."""

    def __init__(self, bank: InputBank, facts: RunFacts) -> None:
        self._bank = bank
        self._facts = facts
        self._told = {place: _Told() for place in bank.wires}
        self._tick_us = 0

    def look(self, now_us: int) -> None:
        """Tell what has begun and what has ended."""
        for place, wire in self._bank.wires.items():
            told = self._told[place]
            self._look_for_chatter(wire, told, now_us)
            if wire.flicker.since_us is None:
                self._look_for_stuck(wire, told, now_us)
                self._look_for_contradiction(wire, told, now_us)
        self._look_for_sampling(now_us)

    def _look_for_chatter(self, wire: Wire, told: _Told, now_us: int) -> None:
        edges = wire.settling.spare_edges - told.spare_before
        if edges >= CHATTER_EDGES and not told.chatters:
            told.chatters = True
            text = f"The {wire.wired.words} bounces: {edges} edges too many in a minute. See to its contact and wire."
            self._bank.note(wire.wired.source, text, now_us)
        if told.window_ends_us is not None and now_us < told.window_ends_us:
            return
        told.window_ends_us, told.spare_before = now_us + MINUTE_US, wire.settling.spare_edges
        if told.chatters and edges < CHATTER_EDGES:
            told.chatters = False
            text = f"The {wire.wired.words} stopped bouncing, after {wire.settling.spare_edges} edges too many in all."
            self._bank.note(wire.wired.source, text, now_us)

    def _look_for_stuck(self, wire: Wire, told: _Told, now_us: int) -> None:
        stuck = self._is_stuck(wire, now_us)
        if stuck and not told.stuck:
            what = "its foil has not gone by" if wire.wired.what == "cue" else "its tail is long out"
            text = f"The {wire.wired.words} is stuck, or was left on: it stays {_level(wire)} and {what}."
            self._bank.note(wire.wired.source, text, now_us)
        told.stuck = stuck

    def _is_stuck(self, wire: Wire, now_us: int) -> bool:
        if wire.on_since_us is None:
            return False
        if wire.wired.what == "cue":
            return now_us - wire.on_since_us > STUCK_CUE_US
        if wire.wired.what != "motor":
            return False
        out_us = max(each.at_us for each in self._facts.passes(wire.wired.station))
        return now_us - max(out_us, wire.on_since_us) > STUCK_MOTOR_US

    def _look_for_sampling(self, now_us: int) -> None:
        """A gateway that looks at its inputs less often than the wiring file says."""
        tick_us, feed = self._bank.sampling.tick_us() or 0, self._bank.feed
        if tick_us == self._tick_us or tick_us <= _SAME_TICK * feed.sampling_us:
            return
        self._tick_us = tick_us
        said = "does not say so" if not feed.sampling_us else f"says {feed.sampling_us // 1000} ms"
        text = (
            f"{feed.id}: its contacts change on a tick of about {tick_us // 1000} ms, and the wiring file {said}."
            f" Their times are less sure than they are taken to be. Write sampling_ms = {tick_us // 1000}."
        )
        self._bank.note(feed.source, text, now_us)

    def _look_for_contradiction(self, wire: Wire, told: _Told, now_us: int) -> None:
        """A contact that another source contradicts, and that has had its time to follow."""
        if wire.wired.what not in KINDS or wire.on is None:
            return
        on, event = self._bank.known(wire)
        # What it said itself before is not on the log's side: the next event of it is on its way.
        if event is None or on is wire.on or event.source == wire.wired.source:
            told.disagreed = None
        elif event.id != told.disagreed and now_us - self._bank.us(event.t) > DISAGREE_US:
            told.disagreed = event.id
            said = f"{event.source} said {event.kind} at {self._bank.clock(self._bank.us(event.t))}"
            self._bank.note(wire.wired.source, f"The {wire.wired.words} is {_level(wire)}, though {said}.", now_us)


def _level(wire: Wire) -> str:
    return "closed" if wire.settling.closed else "open"
