"""Which feeds of contacts tell of which stations, and whose clock can be told from motors."""

from typing import NamedTuple

from server.timeline.changes import ONSETS

# A clock is told from one motor by a second one, and from all motors by another clock.
_LEAST_STATIONS, _LEAST_FEEDS = 2, 2


class Feed(NamedTuple):
    """A feed by its name, and the stations that it has told of, by their indices in film order."""

    name: str
    stations: frozenset[int]


class Feeds:
    """The feeds that have told of passes, in the order in which they first did; a feed's number is its place there."""

    __slots__ = ("_feeds",)

    def __init__(self) -> None:
        self._feeds: tuple[Feed, ...] = ()

    def copy(self) -> "Feeds":
        """Return an independent copy."""
        twin = Feeds()
        twin._feeds = self._feeds
        return twin

    def __getitem__(self, number: int) -> Feed:
        return self._feeds[number]

    def told(self, source: str, station: int) -> int | None:
        """Note that a source told of a station, and return the number of the feed whose clock dates that.

        None where nothing would tell its clock from motors: it tells of one station, or no other feed tells anything;
        and for people, and for more feeds than clocks are kept in mind.
        """
        name, _, _ = source.partition("/")
        if not name.startswith("contact"):
            return None
        number = next((i for i, feed in enumerate(self._feeds) if feed.name == name), len(self._feeds))
        if number == len(self._feeds):
            self._feeds = (*self._feeds, Feed(name, frozenset()))
        feed = self._feeds[number]
        if station not in feed.stations:
            feed = Feed(name, feed.stations | {station})
            self._feeds = (*self._feeds[:number], feed, *self._feeds[number + 1 :])
        known = len(feed.stations) >= _LEAST_STATIONS and len(self._feeds) >= _LEAST_FEEDS
        return number if known and number < ONSETS else None
