"""Foil cues: which one comes next at a gate, and which are off the print."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from server.timeline.observed import StationState
from server.timeline.plan import Mark, Plan


class Cues:
    """The marks of a print that have a cue, against what was seen of them."""

    __slots__ = ("_ahead", "_marks", "_next", "_off", "_plan", "_seen", "_x_s")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._marks = [mark for mark in plan.marks if mark.cue]
        self._x_s = [mark.x_s for mark in self._marks]
        # Of which anything was seen at any gate.
        self._seen: frozenset[str] = frozenset()
        # By station, those that are still to come, and the first of them, as far as they were asked for since the
        # station was last seen; and which were off the print then.
        self._ahead: dict[int, tuple[Mark, ...]] = {}
        self._next: dict[int, Mark | None] = {}
        self._off: frozenset[str] = frozenset()

    def copy(self) -> "Cues":
        """Return an independent copy."""
        twin = object.__new__(Cues)
        twin._plan, twin._marks, twin._x_s, twin._off = self._plan, self._marks, self._x_s, self._off
        twin._ahead, twin._next, twin._seen = self._ahead.copy(), self._next.copy(), self._seen
        return twin

    def forget(self, station: int) -> None:
        """Something was seen of a station."""
        self._ahead.pop(station, None)
        self._next.pop(station, None)

    def saw(self, mark: str) -> None:
        """A mark was seen at a gate, believed or not."""
        self._seen |= {mark}

    def awaited(self, states: Sequence[StationState]) -> list[Mark | None]:
        """Return, for each gate that runs and has a contact for cues, which comes next: of which nothing was seen yet.

        It is the first after the furthest mark that passed whose foil is not off the print.
        """
        if len(self._next) < len(states):
            off = self._off_the_print(states)
            if off != self._off:
                self._off = off
                self._next.clear()
            for k, state in enumerate(states):
                if k not in self._next:
                    self._next[k] = self._next_at(k, state)
        return [self._next[k] for k in range(len(states))]

    def _next_at(self, station: int, state: StationState) -> Mark | None:
        if not state.running or self._plan.stations[station].inputs.cue != "contact":
            return None
        if station not in self._ahead:
            ahead = self._marks[bisect_right(self._x_s, max(state.latest_x_s, -self._plan.ahead_s[station])) :]
            self._ahead[station] = tuple(mark for mark in ahead if mark.id not in state.seen)
        return next((mark for mark in self._ahead[station] if mark.id not in self._off), None)

    def _off_the_print(self, states: Sequence[StationState]) -> frozenset[str]:
        """Those that no gate has seen though a gate with a contact for them has let a later mark by."""
        inputs = (station.inputs.cue for station in self._plan.stations)
        latest_x_s = (state.latest_x_s for cue, state in zip(inputs, states, strict=True) if cue == "contact")
        gone_by = self._marks[: bisect_left(self._x_s, max(latest_x_s, default=-math.inf))]
        return frozenset(mark.id for mark in gone_by if mark.id not in self._seen)

    def let_by(self, mark: Mark, states: Sequence[StationState]) -> bool:
        """Whether a gate with a contact for cues has let a later mark by."""
        stations = zip(self._plan.stations, states, strict=True)
        return any(state.latest_x_s > mark.x_s for station, state in stations if station.inputs.cue == "contact")

    def off_the_print(self, states: Sequence[StationState]) -> Iterator[Mark]:
        """Those that no gate has seen though two gates with a contact for them have let a later mark by."""
        inputs = (station.inputs.cue for station in self._plan.stations)
        latest_x_s = sorted(state.latest_x_s for cue, state in zip(inputs, states, strict=True) if cue == "contact")
        if len(latest_x_s) > 1:
            gone_by = self._marks[: bisect_left(self._x_s, latest_x_s[-2])]
            yield from (mark for mark in gone_by if mark.id not in self._seen)
