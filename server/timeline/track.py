"""The events of a run in their order, and how to get to the state after any of them.

States are kept along the way, close together near the end and further apart behind, so that an event that arrives
late costs no more than going over what came after it.
"""

from bisect import bisect, bisect_left
from collections.abc import Generator, Iterator
from typing import NamedTuple

from server.timeline.events import Event, order_key
from server.timeline.evidence import Evidence
from server.timeline.fold import Fold
from server.timeline.plan import Plan
from server.timeline.view import Record

# chosen: late taps are seconds late, so this many recent states are all kept; of older ones every sixteenth, and those
# that are this many times as old as they are apart let go of every other one, so that a long night costs no more
_RECENT = 48
_EVERY = 16
# chosen: so many of what was gone over for retractions, a quarter of an hour and more each of what a show tells
_KEPT = 64


class _Stop(NamedTuple):
    """The state after the first `taken` events, none of which are among those `excluded` by a retraction."""

    taken: int
    fold: Fold
    excluded: frozenset[str]


class _Without(NamedTuple):
    """What the first `taken` events say without those `excluded`."""

    taken: int
    evidence: Evidence
    excluded: frozenset[str]


class Track:
    """All events of one run, ordered by when they count and then by id, and the fold after the last.

    An event that comes late, or takes back an old one, has all that came after it folded again, which may take longer
    than a live run can stand still for: `place` and `step` do it a little at a time, `insert` at once. Until `step`
    has said that nothing is left, `tip` is of no use.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._keys: list[tuple[int, str]] = []
        self._events: list[Event] = []
        self._stops = [_Stop(0, Fold(plan), frozenset())]
        # Kept from what was gone over for a retraction: the next one may begin there, though more is wrong by then.
        self._without: list[_Without] = []
        self._any_retracts = False
        self._going: Iterator[None] | None = None
        self._records: list[Record] = []
        self.by_id: dict[str, Event] = {}

    @property
    def tip(self) -> Fold:
        """The fold right after the last event; copy it to move it on."""
        return self._stops[-1].fold

    def insert(self, event: Event) -> list[Record]:
        """Put an event, of an id not seen before, in its place, and fold it and all that come after it again.

        Returns what changed from the state before its place on; for the latest event that is what is new.
        """
        self.place(event)
        while not self.step():
            pass
        return self._records

    def place(self, event: Event) -> None:
        """Put an event, of an id not seen before, in its place; what is under way goes on where it comes after that."""
        if self._stops[-1].taken == len(self._events):
            self._records = []
        key = order_key(event, self._plan)
        place = bisect(self._keys, key)
        if place < len(self._events):
            self._going = None
        self._keys.insert(place, key)
        self._events.insert(place, event)
        self.by_id[event.id] = event
        self._any_retracts |= event.kind == "retract"
        while self._stops[-1].taken > place:
            self._stops.pop()
        while self._without and self._without[-1].taken > place:
            self._without.pop()

    def step(self) -> bool:
        """Fold one event more, or a part of what that takes; whether nothing is left to be done."""
        if self._stops[-1].taken == len(self._events):
            return True
        if self._going is None:
            self._going = self._fold_on()
        if next(self._going, self) is self:
            self._going = None
        return self._stops[-1].taken == len(self._events)

    def _fold_on(self) -> Iterator[None]:
        """Fold to the last event that there is by now.

        Beside the state as it was believed goes the evidence without anything that is taken back later. Where an event
        is taken back and nothing else that is wrong stands, the two are one again, and nothing has to be gone over.
        """
        first = self._stops[-1].taken
        excluded_at_last = self._excluded_after(len(self._events)) if self._any_retracts else frozenset[str]()
        known = {event.id for event in self._events[:first]} if self._any_retracts else set[str]()
        clean: Evidence | None = None
        if any(event.kind == "retract" for event in self._events[first + 1 :]):
            clean = yield from self._clean_after(first, excluded_at_last & known)
        for count in range(first, len(self._events)):
            event, before = self._events[count], self._stops[-1]
            known.add(event.id)
            excluded, rebuilt = before.excluded, None
            if event.kind == "retract":
                excluded = self._excluded_after(count + 1)
                if excluded != before.excluded:
                    is_clean = clean is not None and excluded & known == excluded_at_last & known
                    rebuilt = clean if is_clean else (yield from self._evidence_without(excluded, count))
            was_clean = before.fold.evidence is clean
            fold = before.fold.copy()
            self._records.extend(fold.take(event, rebuilt, void=event.id in before.excluded))
            if clean is not None and event.id not in excluded_at_last and event.kind != "retract":
                clean = fold.evidence if was_clean and event.id not in before.excluded else _after(clean, event)
            self._stops.append(_Stop(count + 1, fold, excluded))
            self._thin()
            yield

    def _clean_after(self, count: int, excluded: frozenset[str]) -> Generator[None, None, Evidence]:
        """What the first `count` events say without those excluded."""
        stop = self._stops[-1]
        known = {event.id for event in self._events[:count]}
        if stop.excluded & known == excluded:
            return stop.fold.evidence
        return (yield from self._evidence_without(excluded, count))

    def _excluded_after(self, count: int) -> frozenset[str]:
        """The ids that the first `count` events retract; a retraction may itself be retracted, by a later one."""
        excluded: set[str] = set()
        for event in reversed(self._events[:count]):
            if event.kind == "retract" and event.retracts is not None and event.id not in excluded:
                excluded.add(event.retracts)
        return frozenset(excluded)

    def _evidence_without(self, excluded: frozenset[str], count: int) -> Generator[None, None, Evidence]:
        """What the first `count` events say without those excluded, from the latest state that never had them."""
        start = self._latest_without(excluded, count)
        evidence = start.evidence.copy()
        self._without = [one for one in self._without if one.taken <= start.taken]
        for taken, event in enumerate(self._events[start.taken : count], start.taken + 1):
            if event.id not in excluded:
                evidence.apply(event)
            if taken % _EVERY == 0:
                self._without = [*self._without[1 - _KEPT :], _Without(taken, evidence.copy(), excluded)]
            yield
        return evidence

    def _latest_without(self, excluded: frozenset[str], count: int) -> _Without:
        positions = {event.id: i for i, event in enumerate(self._events[:count]) if event.id in excluded}

        def never_had(taken: int, without: frozenset[str]) -> bool:
            return without <= excluded and all(positions.get(id_, count) >= taken for id_ in excluded - without)

        stop = next(one for one in reversed(self._stops) if never_had(one.taken, one.excluded))
        kept = (one for one in reversed(self._without) if stop.taken < one.taken <= count)
        found = next((one for one in kept if never_had(one.taken, one.excluded)), None)
        return found or _Without(stop.taken, stop.fold.evidence, stop.excluded)

    def _thin(self) -> None:
        """Let go of the states that have just become older: the older, the further apart are those that are kept."""
        last, apart, age = self._stops[-1].taken, _EVERY, _RECENT
        while last > age:
            if (last - age) % apart:
                at = bisect_left(self._stops, last - age, key=_taken)
                if self._stops[at].taken == last - age:
                    del self._stops[at]
            apart, age = 2 * apart, 2 * apart * _EVERY


def _taken(stop: _Stop) -> int:
    return stop.taken


def _after(evidence: Evidence, event: Event) -> Evidence:
    """The evidence with one event more."""
    after = evidence.copy()
    after.apply(event)
    return after
