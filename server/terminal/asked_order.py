"""What is asked for on the command line of `festoon order`, read against the site, with every fault at once."""

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Final, Literal, NamedTuple
from zoneinfo import ZoneInfo

from server.planning.meant import meant_word
from server.planning.ordering_wanted import Fixed, OrderFaults, Wanted
from server.planning.site_model import Site
from server.timeline.faults import either, found_text
from server.timeline.meant_times import meant_clock
from server.timeline.plan import Plan

_CLOCK: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?")
_ACCEPTED_CLOCK: Final = "a time of the house's clock from '00:00' to '23:59'"
_AT: Final = re.compile(r"\s*(?P<house>[^=]*?)\s*=\s*(?P<clock>.*?)\s*")
# How people write it as well: "3 19:05", "3 at 7pm".
_NEARLY_AT: Final = re.compile(
    r"\s*(?P<house>.+?)\s*(?:[ :@]|\bat\b)\s*(?P<clock>[0-9]{1,2}[:.h]?[0-9]{0,2}\s*[apm.]*)\s*"
)


class Words(NamedTuple):
    """The options of the command as they were written."""

    houses: str | None = None
    at: tuple[str, ...] = ()
    start: str | None = None
    early_s: float | None = None
    late_s: float | None = None
    first: tuple[str, ...] = ()
    last: tuple[str, ...] = ()
    together: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    right_before: tuple[str, ...] = ()
    chains: Literal[1, 2] = 1


def wanted_from_words(words: Words, site: Site, plan: Plan | None, on: date) -> Wanted:
    """Make what is wanted of the options and the site; a plan gives houses, times, film and leader where it is given.

    `on` is the day of the first times, by the site's clock. Raises OrderFaults with every fault of the options.
    """
    reader = _Reader(site)
    houses = tuple(reader.houses("--houses", words.houses)) if words.houses is not None else _houses(site, plan)
    clocks = {} if plan is None else _clocks(plan, houses)
    clocks |= dict(reader.times(words.at))
    zone = ZoneInfo(site.timezone)
    advertised = moments_of(clocks, on, zone, None if plan is None else plan.zero)
    start = None if words.start is None else reader.clock("--start", words.start)
    wanted = Wanted(
        houses=houses,
        advertised=advertised,
        start=None if start is None else _nearest(start, min(advertised.values(), default=None), on, zone),
        fixed=reader.fixed(words),
        chains=words.chains,
    )
    if reader.faults:
        raise OrderFaults(reader.faults)
    if words.early_s is not None:
        wanted = wanted._replace(early_s=words.early_s)
    if words.late_s is not None:
        wanted = wanted._replace(late_s=words.late_s)
    return wanted if plan is None else wanted._replace(film=plan.film, leader_s=plan.mark("head").x_s)


def _houses(site: Site, plan: Plan | None) -> tuple[str, ...]:
    return tuple(site.by_house) if plan is None else tuple(station.house for station in plan.stations)


def _clocks(plan: Plan, houses: tuple[str, ...]) -> dict[str, time]:
    told = {station.house: station.advertised for station in plan.stations}
    return {house: time.fromisoformat(clock) for house, clock in told.items() if clock and house in houses}


def moments_of(clocks: Mapping[str, time], on: date, zone: ZoneInfo, since: datetime | None) -> dict[str, datetime]:
    """Put times of the clock on days, the first of them on `on`: past midnight is the next day. They are in UTC.

    The night begins after the longest time of day in which nothing is advertised. Of an hour that the clock goes
    through twice it is that which brings all times closest together. Where both do, the first that is not past at
    `since`, when a plan starts the motors.
    """
    if not clocks:
        return {}
    times = sorted(set(clocks.values()))
    gaps = [(_seconds(one) - _seconds(before)) % 86400 or 86400 for before, one in pairwise([times[-1], *times])]
    first = times[gaps.index(max(gaps))]
    twice = {house: _instants(on + timedelta(days=clock < first), clock, zone) for house, clock in clocks.items()}
    first_hour, other_hour = ({house: both[k] for house, both in twice.items()} for k in (0, 1))
    is_past = since is not None and min(first_hour.values()) < since <= min(other_hour.values())
    by_choice = (other_hour, first_hour) if is_past else (first_hour, other_hour)
    return min(by_choice, key=_span)


def _instants(day: date, clock: time, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """When the clock shows this on a day, the first and the last time, in UTC: the same but where it is set back.

    What the clock leaps over counts from before the leap.
    """
    first, other = (datetime.combine(day, clock.replace(fold=fold), zone).astimezone(UTC) for fold in (0, 1))
    return first, max(first, other)


def _span(moments: Mapping[str, datetime]) -> timedelta:
    return max(moments.values()) - min(moments.values())


def _seconds(clock: time) -> int:
    return clock.hour * 3600 + clock.minute * 60 + clock.second


def _nearest(clock: time, first: datetime | None, on: date, zone: ZoneInfo) -> datetime:
    """The instant of a start, in UTC: the one that is nearest to the first time that is advertised."""
    moments = [moment for days in (0, -1, 1) for moment in _instants(on + timedelta(days=days), clock, zone)]
    return moments[0] if first is None else min(moments, key=lambda moment: abs(moment - first))


class _Reader:
    """Reads options against a site; `faults` has a sentence for each that is no use."""

    def __init__(self, site: Site) -> None:
        self.faults: list[str] = []
        self._names = {house.casefold(): house for house in site.by_house}

    def house(self, option: str, text: str) -> str | None:
        """The name of a house; None on a fault."""
        name = text.strip()
        if (house := self._names.get(name.casefold())) is not None:
            return house
        meant = meant_word(name, self._names.values()) if name else None
        self._fault(option, text, f"a house of the site: {either(self._names.values())}", meant)
        return None

    def houses(self, option: str, text: str) -> Iterator[str]:
        """Names between commas."""
        for name in text.split(","):
            if (house := self.house(option, name)) is not None:
                yield house

    def clock(self, option: str, text: str) -> time | None:
        """A time of the house's clock; None on a fault."""
        if _CLOCK.fullmatch(text):
            return time.fromisoformat(text)
        self._fault(option, text, _ACCEPTED_CLOCK, meant_clock(text))
        return None

    def times(self, texts: Iterable[str]) -> Iterator[tuple[str, time]]:
        """Houses with their times, as `3=19:05`."""
        known: set[str] = set()
        for text in texts:
            match = _AT.fullmatch(text)
            if match is None:
                self._fault("--at", text, "a house and its time, as '3=19:05'", _meant_at(text))
                continue
            house, clock = self.house("--at", match["house"]), self.clock(f"--at {match['house']}", match["clock"])
            if house in known:
                self.faults.append(f"--at: House {house} has two times; accepted one")
            if house is not None and clock is not None:
                known.add(house)
                yield house, clock

    def fixed(self, words: Words) -> Fixed:
        """What of the order is settled."""
        return Fixed(
            first=tuple(self._ends("--first", words.first)),
            last=tuple(self._ends("--last", words.last)),
            together=tuple(tuple(self._group("--together", text)) for text in words.together),
            before=tuple(self._pairs("--before", words.before)),
            right_before=tuple(self._pairs("--right-before", words.right_before)),
        )

    def _ends(self, option: str, texts: Iterable[str]) -> Iterator[str]:
        for text in texts:
            yield from self.houses(option, text)

    def _group(self, option: str, text: str) -> list[str]:
        before = len(self.faults)
        group = list(self.houses(option, text))
        if len(group) < 2 and len(self.faults) == before:
            self.faults.append(f"{option}: found {found_text(text)}; accepted two houses or more, as '3,4'")
        return group

    def _pairs(self, option: str, texts: Iterable[str]) -> Iterator[tuple[str, str]]:
        """Each house and the next of a list."""
        for text in texts:
            group = self._group(option, text)
            yield from pairwise(group)

    def _fault(self, option: str, text: str, accepted: str, meant: str | None) -> None:
        write = "" if meant is None else f": write {meant}"
        self.faults.append(f"{option}: found {found_text(text)}; accepted {accepted}{write}")


def _meant_at(text: str) -> str | None:
    """`3 19:05` is 3=19:05."""
    match = _NEARLY_AT.fullmatch(text)
    clock = None if match is None else meant_clock(match["clock"])
    if match is None or clock is None or clock.count('"') != 2:
        return None
    return f"{match['house']}={clock.strip(chr(34))}"
