"""The timeline engine: events and the time go in; state, alarms and prompts come out.

It has no clock, thread, file or socket. The caller gives the time with every call and asks `next_wake_us` when to
call again. The same events give the same state whatever order they came in and whenever the time was given.
"""

from collections import ChainMap
from collections.abc import Iterable, Mapping

from server.timeline.events import Event, at_us, refusal
from server.timeline.fold import Fold
from server.timeline.plan import Plan
from server.timeline.steps import ALWAYS_US
from server.timeline.track import Track
from server.timeline.view import Record, RunView
from server.timeline.viewing import Viewer


class Engine:
    """One run of a plan, live. Times are integer microseconds after `plan.zero`, and never go backward."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._track = Track(plan)
        self._fold = self._track.tip.copy()
        self._viewer = Viewer()
        self._is_behind = False

    def refusal(self, event: Event) -> str | None:
        """Say in one sentence why an event cannot be taken; None where it can, or is a copy of one already taken."""
        return refusal_among(event, self._track.by_id, self.plan)

    def take(self, event: Event, now_us: int) -> None:
        """Take an event that `refusal` did not refuse, however late, and move on to `now_us`.

        A copy of one already taken changes nothing.
        """
        self.put(event)
        while not self.work(now_us):
            pass

    def put(self, event: Event) -> None:
        """Begin to take an event that `refusal` did not refuse; until `work` is done all stays as it was before."""
        if event.id not in self._track.by_id:
            self._track.place(event)
            self._is_behind = True

    def work(self, now_us: int) -> bool:
        """Do a little, some milliseconds at most, of what was begun; whether it is done, and all is as of `now_us`."""
        if self._is_behind:
            if not self._track.step():
                return False
            self._is_behind = False
            now_us = max(now_us, self._fold.at_us)
            self._fold = self._track.tip.copy()
        self.advance(now_us)
        return True

    def take_all(self, events: Iterable[Event], now_us: int) -> list[tuple[Event, str]]:
        """Take events in the order in which they came, and move on to `now_us`; those that are refused, and why.

        The state is that of taking them one by one, whenever each of them came; it is reached by folding once.
        """
        coming: dict[str, Event] = {}
        known = ChainMap(coming, self._track.by_id)
        refused: list[tuple[Event, str]] = []
        for event in events:
            if reason := refusal_among(event, known, self.plan):
                refused.append((event, reason))
            elif event.id not in known:
                coming[event.id] = event
        for event in coming.values():
            self.put(event)
        while not self.work(now_us):
            pass
        return refused

    def advance(self, now_us: int) -> list[Record]:
        """Move on to `now_us` and return what changed on the way."""
        return self._fold.advance(now_us)

    def next_wake_us(self) -> int | None:
        """When the time is next needed if no event comes; None if nothing will change by itself."""
        return self._fold.next_edge_us()

    def view(self) -> RunView:
        """The whole run as of the latest time given; what has not changed since the last view is the same object."""
        return self._viewer.view(self._fold)


def refusal_among(event: Event, known: Mapping[str, Event], plan: Plan) -> str | None:
    """Say why an event cannot join those known by id; None where it can, or is a copy of one of them."""
    same = known.get(event.id)
    if same is not None:
        return None if same == event else f"id: found '{event.id}' again with other contents; the first one stands"
    if event.retracts is not None and event.retracts not in known:
        return f"retracts: found the unknown event '{event.retracts}'; accepted the id of an event of this run"
    return refusal(event, plan)


def replay(plan: Plan, events: Iterable[Event], until_us: int | None = None) -> tuple[list[Record], Fold]:
    """Play events, in order of time, to `until_us` or to the last of them; return every change and the last state.

    Events after `until_us` are not known. Changes are in order of their instants.
    """
    track = Track(plan)
    records: list[Record] = []
    last_us = ALWAYS_US
    for event in events:
        at = at_us(event, plan)
        if until_us is not None and at > until_us:
            break
        records.extend(track.insert(event))
        last_us = at
    fold = track.tip.copy()
    records.extend(fold.advance(until_us if until_us is not None else last_us))
    records.extend(fold.conclude())
    return sorted(records, key=lambda record: record.at_us), fold
