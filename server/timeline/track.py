"""The events of a run in their order, and how to get to the state after any of them.

States are kept along the way, close together near the end and further apart behind, so that an event that arrives
late costs no more than going over what came after it.
"""

from bisect import bisect
from typing import NamedTuple

from server.timeline.events import Event, order_key
from server.timeline.evidence import Evidence
from server.timeline.fold import Fold
from server.timeline.plan import Plan
from server.timeline.view import Record

# chosen: late taps are seconds late, so this many recent states are all kept; of older ones every sixteenth
_RECENT = 48
_EVERY = 16


class _Stop(NamedTuple):
    """The state after the first `taken` events, none of which are among those `excluded` by a retraction."""

    taken: int
    fold: Fold
    excluded: frozenset[str]


class Track:
    """All events of one run, ordered by when they count and then by id, and the fold after the last."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._keys: list[tuple[int, str]] = []
        self._events: list[Event] = []
        self._stops = [_Stop(0, Fold(plan), frozenset())]
        self.by_id: dict[str, Event] = {}

    @property
    def tip(self) -> Fold:
        """The fold right after the last event; copy it to move it on."""
        return self._stops[-1].fold

    def insert(self, event: Event) -> list[Record]:
        """Put an event, of an id not seen before, in its place, and fold it and all that come after it again.

        Returns what changed from the state before its place on; for the latest event that is what is new.
        """
        key = order_key(event, self._plan)
        place = bisect(self._keys, key)
        self._keys.insert(place, key)
        self._events.insert(place, event)
        self.by_id[event.id] = event
        while self._stops[-1].taken > place:
            self._stops.pop()
        records: list[Record] = []
        for count in range(self._stops[-1].taken, len(self._events)):
            records.extend(self._fold_next(count))
        return records

    def _fold_next(self, count: int) -> list[Record]:
        event = self._events[count]
        stop = self._stops[-1]
        fold, excluded, rebuilt = stop.fold.copy(), stop.excluded, None
        if event.kind == "retract":
            excluded = self._excluded_after(count + 1)
            if excluded != stop.excluded:
                rebuilt = self._evidence_without(excluded, count)
        records = fold.take(event, rebuilt, void=event.id in stop.excluded)
        self._stops.append(_Stop(count + 1, fold, excluded))
        self._thin()
        return records

    def _excluded_after(self, count: int) -> frozenset[str]:
        """The ids that the first `count` events retract; a retraction may itself be retracted, by a later one."""
        excluded: set[str] = set()
        for event in reversed(self._events[:count]):
            if event.kind == "retract" and event.retracts is not None and event.id not in excluded:
                excluded.add(event.retracts)
        return frozenset(excluded)

    def _evidence_without(self, excluded: frozenset[str], count: int) -> Evidence:
        """What the first `count` events say without those excluded, from the latest state that never had them."""
        positions = {event.id: i for i, event in enumerate(self._events[:count]) if event.id in excluded}
        start = next(
            stop
            for stop in reversed(self._stops)
            if stop.excluded <= excluded
            and all(positions[id_] >= stop.taken for id_ in excluded - stop.excluded if id_ in positions)
        )
        evidence = start.fold.evidence.copy()
        for event in self._events[start.taken : count]:
            if event.id not in excluded:
                evidence.apply(event)
        return evidence

    def _thin(self) -> None:
        """Let go of the state that has just ceased to be recent, unless it is one of those kept for good."""
        if len(self._stops) > _RECENT:
            leaving = self._stops[-_RECENT]
            if leaving.taken % _EVERY:
                del self._stops[-_RECENT]
