"""Foil cues: which one comes next at a gate, and which are off the print."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence

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
            off = self._given_up(states)
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

    def _given_up(self, states: Sequence[StationState]) -> frozenset[str]:
        """Those that no gate waits for: none has seen them, and one with a contact has let a later mark by."""
        inputs = (station.inputs.cue for station in self._plan.stations)
        latest_x_s = (state.latest_x_s for cue, state in zip(inputs, states, strict=True) if cue == "contact")
        gone_by = self._marks[: bisect_left(self._x_s, max(latest_x_s, default=-math.inf))]
        return frozenset(mark.id for mark in gone_by if mark.id not in self._seen)

    def is_unseen(self, mark: Mark) -> bool:
        """Whether no gate has seen a mark, believed or not."""
        return mark.id not in self._seen

    def off_the_print(self, states: Sequence[StationState], up_us: Mapping[str, int | None]) -> Iterator[Mark]:
        """Those that no gate has seen though the contacts of two gates have seen one before it and one behind it.

        `up_us` is since when each source is up, as far as it said so, None where it is silent: who was away at the one
        before may have missed it.
        """
        if all(mark.id in self._seen for mark in self._marks[: bisect_left(self._x_s, self._latest_x_s(states))]):
            return
        let_by = [let for state in states if (let := self._let_by(state, up_us)) is not None]
        for mark in self._marks:
            if self.is_unseen(mark) and sum(first < mark.x_s < last for first, last in let_by) > 1:
                yield mark

    def _latest_x_s(self, states: Sequence[StationState]) -> float:
        return max((state.latest_x_s for state in states), default=-math.inf)

    def _let_by(self, state: StationState, up_us: Mapping[str, int | None]) -> tuple[float, float] | None:
        """From which mark to which a gate's contact has told of what passed without having been away since."""
        told = [
            self._plan.mark(mark).x_s
            for mark, source in state.passed_by.items()
            if source.startswith("contact") and (since_us := up_us.get(source, -math.inf)) is not None
            if since_us <= state.passes[mark]
        ]
        return (min(told), max(told)) if told else None
