"""Events that count and are not on disk: kept in the order in which they came, until the log takes them."""

from typing import NamedTuple

from server.timeline.events import Event


class Held(NamedTuple):
    """An event that is not on disk, and the run's time at which it came."""

    event: Event
    arrived_us: int


class Unwritten:
    """What a run knows and its log does not; `why` is None while that is nothing."""

    def __init__(self) -> None:
        self.why: str | None = None
        self.since_us = 0
        self._held: dict[str, Held] = {}
        self._under_way: set[str] = set()

    def __len__(self) -> int:
        return len(self._held)

    def get(self, event_id: str) -> Held | None:
        """The event of that id, if it is not on disk."""
        return self._held.get(event_id)

    def hold(self, event: Event, arrived_us: int, why: str, *, under_way: bool) -> None:
        """Keep an event, behind those that came before it; `under_way` says that a write of it may still succeed."""
        if self.why is None:
            self.since_us = arrived_us
        self.why = why
        self._held[event.id] = Held(event, arrived_us)
        if under_way:
            self._under_way.add(event.id)

    def failed(self, event_id: str, why: str) -> None:
        """Say that the write of one that is held came to nothing."""
        self.why = why
        self._under_way.discard(event_id)

    def written(self, event_id: str) -> Held | None:
        """Let go of one that is on disk now; None where it was not held."""
        self._under_way.discard(event_id)
        held = self._held.pop(event_id, None)
        if not self._held:
            self.why = None
        return held

    def to_write(self) -> Held | None:
        """The first of them, as under way from now on; None while any still is, so that they are written in order."""
        if self._under_way or not self._held:
            return None
        first = next(iter(self._held))
        self._under_way.add(first)
        return self._held[first]
