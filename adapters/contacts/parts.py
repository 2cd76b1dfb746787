"""What of a feed is silent by itself, while the feed is heard: a unit behind a gateway, or a contact that flickers."""

from collections.abc import Callable, Collection
from datetime import datetime

from server.timeline.event_kinds import EventKind
from server.timeline.events import Event


class Parts:
    """The silent parts of one feed, each told as a feed of its own when it goes and when it is back.

    `source` is the feed's, `new_id` makes the ids of its events, `down` are the sources that the log has as silent.
    """

    def __init__(self, source: str, new_id: Callable[[], str], down: Collection[str]) -> None:
        self._source = source
        self._new_id = new_id
        begins = f"{source}/"
        self._why: dict[str, str] = {each.removeprefix(begins): "" for each in down if each.startswith(begins)}

    def is_silent(self, part: str) -> bool:
        """Whether a part is told as silent."""
        return part in self._why

    def say(self, part: str, why: str | None, t: datetime, station: str | None = None) -> Event | None:
        """Say that a part is silent, and why, or that it is back (None); gives the event where that is new."""
        changed = (part in self._why) is not (why is not None)
        if why is None:
            self._why.pop(part, None)
        else:
            self._why[part] = why
        if not changed:
            return None
        kind: EventKind = "feed_up" if why is None else "feed_down"
        return Event(id=self._new_id(), t=t, kind=kind, station=station, source=f"{self._source}/{part}", text=why)
