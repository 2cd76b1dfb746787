"""What is answered to who asks for an order of houses.

Import these names from `server.planning.ordering`.
"""

from collections.abc import Iterator
from datetime import datetime, tzinfo
from typing import NamedTuple


class Stop(NamedTuple):
    """One house of an order. `path_m`, `rollers` and `doorways` are those from the house before it, 0 for the first.

    The head comes `after_s` after that of the first house of its chain, and at `head` (UTC), None where nothing says
    when a motor starts. `late_s` is how long that is after `advertised`, below 0 before it; None where there is none.
    """

    house: str
    path_m: float
    rollers: int
    doorways: int
    after_s: float
    head: datetime | None
    advertised: datetime | None
    late_s: float | None


class Chain(NamedTuple):
    """The houses that one print runs through, in film order; the motors start at `start` (UTC), None as of a head."""

    stops: tuple[Stop, ...]
    start: datetime | None

    @property
    def houses(self) -> tuple[str, ...]:
        """The houses' names, in film order."""
        return tuple(stop.house for stop in self.stops)


class Order(NamedTuple):
    """One order of the houses. `path_m` and `leader_m` are those of all chains, from projector to projector and in all.

    `missed` are the houses whose head comes outside of what was accepted. `is_proven` is whether the solver has shown
    that no order is better, but for those that are told before it.
    """

    chains: tuple[Chain, ...]
    path_m: float
    leader_m: float
    missed: tuple[str, ...]
    is_proven: bool

    @property
    def stops(self) -> Iterator[Stop]:
        """Every house, chain by chain."""
        return (stop for chain in self.chains for stop in chain.stops)

    @property
    def last_s(self) -> float:
        """How long after the first head of its chain the last one comes; of two chains the longer."""
        return max(chain.stops[-1].after_s for chain in self.chains)

    @property
    def late_s(self) -> float | None:
        """How late the latest head is, below 0 where all are early; None where no house has a time."""
        return max((stop.late_s for stop in self.stops if stop.late_s is not None), default=None)

    @property
    def rollers(self) -> int:
        """Rollers of every path."""
        return sum(stop.rollers for stop in self.stops)

    @property
    def doorways(self) -> int:
        """Doorways that any path crosses."""
        return sum(stop.doorways for stop in self.stops)


class Trade(NamedTuple):
    """What was given up for something. `code` is `times`, `fixed`, `chains` or `missed`; `text` is a sentence or two.

    `path_m` is how much more path there is for it, None where it costs something else or nobody knows. `is_proven` is
    whether the solver has shown it; else it compares orders that are the best that were found.
    """

    code: str
    text: str
    path_m: float | None
    is_proven: bool


class Ordering(NamedTuple):
    """The best order, what was traded for it, and the next best, best first.

    `can_be_turned` is whether each order is as good from its end to its beginning. `is_complete` is False where the
    solver gave up before it had found as many as it was asked for: nobody knows then whether there are more.
    """

    best: Order
    trades: tuple[Trade, ...]
    next_best: tuple[Order, ...]
    can_be_turned: bool
    is_complete: bool


def order_document(ordering: Ordering, zone: tzinfo) -> dict[str, object]:
    """Return it as `festoon order --json` has it: metres and seconds that are not rounded.

    Instants are RFC 3339 on the clock of `zone`.
    """
    return {
        "format": "festoon-order/1",
        "best": _plain_order(ordering.best, zone),
        "trades": [trade._asdict() for trade in ordering.trades],
        "next_best": [_plain_order(order, zone) for order in ordering.next_best],
        "can_be_turned": ordering.can_be_turned,
        "is_complete": ordering.is_complete,
    }


def _plain_order(order: Order, zone: tzinfo) -> dict[str, object]:
    return {
        "chains": [
            {"start": _plain_moment(chain.start, zone), "houses": [_plain_stop(stop, zone) for stop in chain.stops]}
            for chain in order.chains
        ],
        "path_m": order.path_m,
        "leader_m": order.leader_m,
        "rollers": order.rollers,
        "doorways": order.doorways,
        "last_s": order.last_s,
        "late_s": order.late_s,
        "missed": list(order.missed),
        "is_proven": order.is_proven,
    }


def _plain_stop(stop: Stop, zone: tzinfo) -> dict[str, object]:
    moments = {"head": _plain_moment(stop.head, zone), "advertised": _plain_moment(stop.advertised, zone)}
    return stop._asdict() | moments


def _plain_moment(moment: datetime | None, zone: tzinfo) -> str | None:
    return None if moment is None else moment.astimezone(zone).isoformat()
