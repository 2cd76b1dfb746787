"""What an order of houses is asked for, and what is wrong with the asking.

Import these names from `server.planning.ordering`.
"""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

from server.planning.meant import meant_word
from server.planning.site_model import Site
from server.timeline.faults import both, either
from server.timeline.film import Film
from server.timeline.schedule import EARLY_S

LATE_S: Final = 300.0  # chosen: guests who are told 19:00 wait five minutes without asking
LEADER_S: Final = 40.0  # chosen: 60 counter feet of 35 mm head leader at 24 frames/s
MOST_HOUSES: Final = 16  # of one show: to there an order is found and proven in seconds
LEAST_OF_CHAIN: Final = 2  # one house alone is no chain

_NO_TIMES: Final[Mapping[str, datetime]] = MappingProxyType({})


class Fixed(NamedTuple):
    """What of an order is settled; houses by their names.

    Each of `first` is the first of its chain and each of `last` the last. The houses of each group of `together` follow
    one another, in any order. Of a pair in `before` the first comes earlier in the same chain, of one in `right_before`
    with no house between.
    """

    first: tuple[str, ...] = ()
    last: tuple[str, ...] = ()
    together: tuple[tuple[str, ...], ...] = ()
    before: tuple[tuple[str, str], ...] = ()
    right_before: tuple[tuple[str, str], ...] = ()

    @property
    def groups(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Every wish, with how it is said and its houses."""
        return (
            *(("first", (house,)) for house in self.first),
            *(("last", (house,)) for house in self.last),
            *(("together", houses) for houses in self.together),
            *(("before", houses) for houses in self.before),
            *(("right before", houses) for houses in self.right_before),
        )

    @property
    def has_direction(self) -> bool:
        """Whether an order that keeps it may break it when it is turned about."""
        return bool(self.first or self.last or self.before or self.right_before)


class Wanted(NamedTuple):
    """The houses of one night, and what their order has to keep.

    `advertised` (aware) is what guests of a house were told, for those that have a time. A head may come `early_s`
    before and `late_s` after that. `start` (aware) is when the motors start, None to have the best start chosen.
    `leader_s` is how long the print runs before its head. With two `chains` each house is in one of two, which two
    prints run through.
    """

    houses: tuple[str, ...]
    advertised: Mapping[str, datetime] = _NO_TIMES
    start: datetime | None = None
    early_s: float = EARLY_S
    late_s: float = LATE_S
    fixed: Fixed = Fixed()
    chains: Literal[1, 2] = 1
    film: Film = Film()
    leader_s: float = LEADER_S

    @property
    def is_timed(self) -> bool:
        """Whether some order may meet the times better than another."""
        return bool(self.advertised)

    @property
    def in_utc(self) -> "Wanted":
        """The same with its moments in UTC: sums of moments of one zone leave out what its clock is changed by."""
        advertised = {house: moment.astimezone(UTC) for house, moment in self.advertised.items()}
        return self._replace(advertised=advertised, start=None if self.start is None else self.start.astimezone(UTC))


class OrderFaults(Exception):
    """No order can be given; `faults` are all the reasons, a sentence each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def faults_of(site: Site, wanted: Wanted) -> Iterator[str]:
    """What is wrong with the asking alone, a sentence each."""
    yield from _unknown(site, wanted)
    twice = [house for k, house in enumerate(wanted.houses) if house in wanted.houses[:k]]
    yield from (f"House {house} is wanted twice." for house in dict.fromkeys(twice))
    count = len(set(wanted.houses))
    if not 1 <= count <= MOST_HOUSES:
        yield f"Found {count} houses; accepted 1 to {MOST_HOUSES}."
    least = wanted.chains * LEAST_OF_CHAIN
    if wanted.chains > 1 and count < least:
        yield f"Found {count} houses for {wanted.chains} chains; accepted {least} or more, {LEAST_OF_CHAIN} for each."
    for house in wanted.advertised:
        if house not in wanted.houses:
            yield f"House {house} has a time and is not among the houses wanted."
    yield from _badly_fixed(wanted)


def _unknown(site: Site, wanted: Wanted) -> Iterator[str]:
    for house in dict.fromkeys(wanted.houses):
        if house not in site.by_house:
            meant = meant_word(house, site.by_house)
            hint = f" Is House {meant} meant?" if meant else ""
            yield f"{site.site} has no House {house}: its houses are {both(site.by_house)}.{hint}"


def _badly_fixed(wanted: Wanted) -> Iterator[str]:
    for said, houses in wanted.fixed.groups:
        strangers = [house for house in houses if house not in wanted.houses]
        if strangers:
            yield f"{wish_text(said, houses)}: House {either(strangers)} is not among the houses wanted."
        elif len(set(houses)) < len(houses) or (said == "together" and len(houses) < 2):
            yield f"{wish_text(said, houses)}: found {both(houses)}; accepted two different houses."
    for said, ends in (("first", wanted.fixed.first), ("last", wanted.fixed.last)):
        if len(set(ends)) > wanted.chains:
            yield f"Houses {both(ends)} cannot all be {said}: there is {wanted.chains} for each chain."


def wish_text(said: str, houses: tuple[str, ...]) -> str:
    """A wish in words: "House 3 first", "House 3 before 7", "Houses 4 and 5 together"."""
    if said in {"first", "last"}:
        return f"House {houses[0]} {said}"
    if said == "together":
        return f"Houses {both(houses)} together"
    return f"House {houses[0]} {said} {houses[1]}"
