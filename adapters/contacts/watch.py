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


@dataclass(slots=True)
class _Told:
    """What was told of one wire and still holds."""

    window_ends_us: int | None = None
    spare_before: int = 0
    chatters: bool = False
    stuck: bool = False
    disagreed: str | None = None


@dataclass(slots=True)
class _Trouble:
    """One sentence that was told, when, and how often it came since."""

    told_us: int
    more: int = 0


class Watch:
    """Looks after the inputs of one feed. `look` is to be called about once a second, with the run's time."""

    def __init__(self, bank: InputBank, facts: RunFacts) -> None:
        self._bank = bank
        self._facts = facts
        self._told = {place: _Told() for place in bank.wires}
        self._troubles: dict[str, _Trouble] = {}

    def look(self, now_us: int) -> None:
        """Tell what has begun and what has ended."""
        for place, wire in self._bank.wires.items():
            told = self._told[place]
            self._look_for_chatter(wire, told, now_us)
            self._look_for_stuck(wire, told, now_us)
            self._look_for_contradiction(wire, told, now_us)
        self._sum_up(now_us)

    def tell(self, text: str, now_us: int) -> None:
        """Tell a sentence about the feed at once, and how often it came again once a minute."""
        trouble = self._troubles.get(text)
        if trouble is not None:
            trouble.more += 1
            return
        self._troubles[text] = _Trouble(now_us)
        self._bank.note(self._bank.feed.source, f"{self._bank.feed.id}: {text}.", now_us)

    def _sum_up(self, now_us: int) -> None:
        for text, trouble in list(self._troubles.items()):
            if now_us - trouble.told_us < MINUTE_US:
                continue
            if not trouble.more:
                del self._troubles[text]
                continue
            self._bank.note(self._bank.feed.source, f"{self._bank.feed.id}: {text}, {trouble.more} times more.", now_us)
            self._troubles[text] = _Trouble(now_us)

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

    def _look_for_contradiction(self, wire: Wire, told: _Told, now_us: int) -> None:
        """A contact that another source contradicts, and that has had its time to follow."""
        if wire.wired.what not in KINDS or wire.on is None:
            return
        on, event = self._bank.known(wire)
        if event is None or on is wire.on:
            told.disagreed = None
        elif event.id != told.disagreed and now_us - self._bank.us(event.t) > DISAGREE_US:
            told.disagreed = event.id
            said = f"{event.source} said {event.kind} at {self._bank.clock(self._bank.us(event.t))}"
            self._bank.note(wire.wired.source, f"The {wire.wired.words} is {_level(wire)}, though {said}.", now_us)


def _level(wire: Wire) -> str:
    return "closed" if wire.settling.closed else "open"
