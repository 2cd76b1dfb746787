"""A contact that changes more often than what it is wired to can: a loose wire, a relay about to go."""

from collections import deque
from typing import Final, NamedTuple

from adapters.contacts.kinds import What
from adapters.contacts.settling import Change


class Limit(NamedTuple):
    """So many changes may come within so long."""

    changes: int
    within_us: int


_TWICE: Final = Limit(4, 9_500_000)

LIMITS: Final[dict[What, Limit]] = {
    "motor": _TWICE,
    "lamp": _TWICE,
    "douser": _TWICE,
    "failsafe": _TWICE,
    "cue": Limit(4, 5_000_000),
}
"""Chosen. A motor, lamp, douser or failsafe goes on and off twice in ten seconds at most. Half a second of that is left
for the error of the times. A foil goes by once in five seconds: a second pulse is the same foil again."""

STEADY_US: Final = 10_000_000
"""A contact that has not changed for so long flickers no more. Chosen."""


class Flicker:
    """Whether one contact flickers: since when, and how often it changed.

    `since_us` is None while it does not. The level before the first of the changes that were too many is the last that
    was steady. It is the one that they leave behind, for every change was sent but the last.
    """

    def __init__(self, what: What) -> None:
        self.since_us: int | None = None
        self._limit = LIMITS[what]
        self._changed_us: deque[int] = deque(maxlen=self._limit.changes + 1)

    def see(self, change: Change) -> bool:
        """Take a change of the level; whether the contact flickers with it."""
        self._changed_us.append(change.late_us)
        first_us = self._changed_us[0]
        full = len(self._changed_us) > self._limit.changes
        if self.since_us is None and full and change.late_us - first_us < self._limit.within_us:
            self.since_us = change.late_us
        return self.since_us is not None

    @property
    def last_us(self) -> int:
        """When the level last changed, of a contact that flickers."""
        return self._changed_us[-1]

    def in_words(self) -> str:
        """How often it changed lately: `5 changes in 0.2 s`."""
        span_s = (self._changed_us[-1] - self._changed_us[0]) / 1e6
        return f"{len(self._changed_us)} changes in {span_s:.1f} s"

    def is_steady(self, now_us: int) -> bool:
        """Whether it flickers no more."""
        return self.since_us is not None and now_us - self.last_us >= STEADY_US

    def forget(self) -> None:
        """Begin anew: it is steady, or nothing is known of it."""
        self.since_us = None
        self._changed_us.clear()
