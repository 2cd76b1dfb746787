"""Foil cues: which one comes next at a gate, and which are off the print."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from server.timeline.observed import StationState
from server.timeline.plan import Mark, Plan


class Cues:
    """The marks of a print that have a cue, against what was seen of them."""

    __slots__ = ("_ahead", "_marks", "_plan", "_x_s")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._marks = [mark for mark in plan.marks if mark.cue]
        self._x_s = [mark.x_s for mark in self._marks]
        # By station, those that are still to come, as far as they were asked for since the station was last seen.
        self._ahead: dict[int, tuple[Mark, ...]] = {}

    def copy(self) -> "Cues":
        """Return an independent copy."""
        twin = object.__new__(Cues)
        twin._plan, twin._marks, twin._x_s, twin._ahead = self._plan, self._marks, self._x_s, self._ahead.copy()
        return twin

    def forget(self, station: int) -> None:
        """Something was seen of a station."""
        self._ahead.pop(station, None)

    def next_at(self, station: int, state: StationState, off: frozenset[str]) -> Mark | None:
        """Return the first, after the furthest mark that passed, of which nothing was seen at a station.

        `off` are marks whose foil is off the print.
        """
        if station not in self._ahead:
            ahead = self._marks[bisect_right(self._x_s, max(state.latest_x_s, -self._plan.ahead_s[station])) :]
            self._ahead[station] = tuple(mark for mark in ahead if mark.id not in state.seen)
        return next((mark for mark in self._ahead[station] if mark.id not in off), None)

    def off_the_print(self, states: Sequence[StationState]) -> frozenset[str]:
        """Return those that no gate has seen though a gate with a contact for them has let a later mark by."""
        inputs = (station.inputs.cue for station in self._plan.stations)
        latest_x_s = (state.latest_x_s for cue, state in zip(inputs, states, strict=True) if cue == "contact")
        gone_by = self._marks[: bisect_left(self._x_s, max(latest_x_s, default=-math.inf))]
        return frozenset(mark.id for mark in gone_by if not any(mark.id in state.seen for state in states))
