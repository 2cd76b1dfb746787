"""One contact's level out of its readings: bounces are taken out, and the time of the first edge is kept."""

from typing import Final, NamedTuple

LONGEST_BOUNCE_US: Final = 1_000_000
"""A contact that goes on for longer is not bouncing, it is not known when it changed. Chosen: the worst bounce seen
lasted 157 ms (J. Ganssle, "A guide to debouncing")."""


class Change(NamedTuple):
    """A contact that has settled at a new level.

    It changed after `early_us` and not after `late_us`. `edges` were seen, 1 where it did not bounce, from the first to
    the last within `bounced_us`. `found` says that it was not known before, so that nobody saw it change.
    """

    closed: bool
    early_us: int
    late_us: int
    edges: int = 1
    bounced_us: int = 0
    found: bool = False


class _Pending(NamedTuple):
    """Edges that have not settled yet: bounds of the first, the latest, and how many."""

    early_us: int
    late_us: int
    last_us: int
    edges: int


class Settling:
    """The level of one contact: `closed` once it has stayed so for `debounce_us`, None while that is not known.

    `spare_edges` counts the edges that were no change: bounces, and pulses too short to count.
    """

    def __init__(self, debounce_us: int) -> None:
        self.closed: bool | None = None
        self.spare_edges = 0
        self._debounce_us = debounce_us
        self._read: bool | None = None
        self._pending: _Pending | None = None

    @property
    def due_us(self) -> int | None:
        """When it settles if nothing else is read; None where nothing is on its way."""
        return None if self._pending is None else self._pending.last_us + self._debounce_us

    @property
    def sure_us(self) -> int | None:
        """Until when it was surely at `closed`, where something is on its way; None where nothing is."""
        return None if self._pending is None else self._pending.early_us

    def see(self, early_us: int, late_us: int, *, closed: bool) -> Change | None:
        """Take a reading: so it was at `late_us`, and where that is new, it changed after `early_us`."""
        if closed is not self._read:
            self._read = closed
            before = self._pending or _Pending(early_us, late_us, late_us, 0)
            self._pending = before._replace(last_us=late_us, edges=before.edges + 1)
        return self.settle(late_us)

    def settle(self, now_us: int) -> Change | None:
        """Give the change that is complete by `now_us` if the latest reading still holds; None where there is none."""
        pending = self._pending
        if pending is None or now_us - pending.last_us < self._debounce_us:
            return None
        self._pending = None
        if self._read is None or self._read is self.closed:
            self.spare_edges += pending.edges
            return None
        self.spare_edges += pending.edges - 1
        found, self.closed = self.closed is None, self._read
        bounced_us = pending.last_us - pending.late_us
        late_us = pending.last_us if bounced_us > LONGEST_BOUNCE_US else pending.late_us
        return Change(self._read, pending.early_us, late_us, pending.edges, bounced_us, found)

    def forget(self) -> None:
        """Nothing is known of the contact any more: its wire is gone."""
        self.closed = self._read = self._pending = None
