"""What follows from a plan: every start, pass, strike window and clear time, the threading, and what looks wrong.

All times are seconds after `motors_at`, none rounded. Warning codes, with the station each is about:

| code | station | meaning |
| --- | --- | --- |
| `late_for_advertised` | the late one | the head comes after the advertised time, on the local day of `motors_at` |
| `offset_over_reserve` | downstream | it is planned to start further from its neighbour than their link's reserve |
| `window_before_start` | the one | its strike window has closed before its motor is to start |
| `window_over_douser_limit` | the one | a lamp lit as the window opens is shut in for longer than the douser stands |
| `no_path` | downstream | the path to it is not given, or 0 |
| `no_reserve` | downstream | the link to it has no reserve |
| `stretch_over_limit` | downstream | the path to it is more than can be pulled as one stretch |
| `tail_short` | none | the tail leader is under 150 counter feet |
| `tail_under_path` | none | the tail is shorter than the longest link: all of it is between two gates at once |
| `print_over_deck` | none | the print is longer than a deck holds |
"""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from typing import Final, NamedTuple

from server.timeline.film import Film
from server.timeline.plan import Link, Plan, Station
from server.timeline.threading import (
    DECK_M,
    PRINT_THICKNESS_M,
    RING_M,
    Threading,
    pullable,
    roll_length,
    single_stretch,
    threading_from_plan,
)

FORMAT: Final = "festoon-schedule/1"
TAIL_FT: Final = 150.0  # of tail leader after the credits, by the counter: common practice, no source

_SAME: Final = 1e-6  # chosen: a microsecond, the finest that a time is written, is no difference


class PlanWarning(NamedTuple):
    """One thing about a plan that somebody should look at; `station` is None where it is about the whole chain."""

    code: str
    station: str | None
    text: str


class StationSchedule(NamedTuple):
    """One station's times; `passes` has every mark of the print, in film order.

    The strike window is before the head: it opens `earliest_s` before, and closes `latest_s` before.
    """

    id: str
    house: str
    start_s: float
    passes: dict[str, float]
    strike_opens_s: float
    strike_closes_s: float
    clear_s: float


class Schedule(NamedTuple):
    """The schedule of one plan; stations and links are in film order."""

    film: Film
    links: tuple[Link, ...]
    stations: tuple[StationSchedule, ...]
    threading: Threading
    warnings: tuple[PlanWarning, ...]

    def as_json(self) -> dict[str, object]:
        """Write it as `festoon-schedule/1`; `reserve_ft` is tape-measure feet."""
        return {
            "format": FORMAT,
            "film": {
                "frame_mm": self.film.frame_mm,
                "speed_m_per_s": self.film.speed_m_per_s,
                "frames_per_foot": self.film.frames_per_foot,
            },
            "links": [self._link_json(link) for link in self.links],
            "stations": [station._asdict() for station in self.stations],
            "threading": {
                "leader_ft": self.threading.leader_ft,
                "stretches": [[stretch.first, stretch.last] for stretch in self.threading.stretches],
                "minutes": self.threading.minutes,
            },
            "warnings": [warning._asdict() for warning in self.warnings],
        }

    def _link_json(self, link: Link) -> dict[str, object]:
        return {
            "id": link.id,
            "path_m": link.path_m,
            "transit_s": link.transit_s,
            "reserve_s": link.reserve_s,
            "reserve_ft": self.film.tape_ft_from_s(link.reserve_s),
        }


def schedule_from_plan(plan: Plan) -> Schedule:
    """Work out what follows from a plan if everything goes by it."""
    stations = tuple(map(_station, (plan,) * len(plan.stations), plan.stations, plan.ahead_s))
    return Schedule(
        film=plan.film,
        links=plan.links,
        stations=stations,
        threading=threading_from_plan(plan),
        warnings=(
            *_station_warnings(plan, stations),
            *_link_warnings(plan),
            *_print_warnings(plan),
        ),
    )


def _station(plan: Plan, station: Station, ahead_s: float) -> StationSchedule:
    running_s = station.start_offset_s + plan.timing.runup_loss_s
    passes = {mark.id: running_s + mark.x_s + ahead_s for mark in plan.marks}
    return StationSchedule(
        id=station.id,
        house=station.house,
        start_s=station.start_offset_s,
        passes=passes,
        strike_opens_s=passes["head"] - station.lamp.earliest_s,
        strike_closes_s=passes["head"] - station.lamp.latest_s,
        clear_s=passes["tail_end"],
    )


def house_clock(plan: Plan, seconds: float) -> datetime:
    """The house's clock that many seconds after `motors_at`."""
    return (plan.zero + timedelta(seconds=seconds)).astimezone(plan.zone)


def advertised_s(plan: Plan, advertised: str) -> float:
    """Seconds from `motors_at` to an advertised `HH:MM` of the same local day.

    An hour that the clock goes through twice is the first that is not past at `motors_at`; one that it leaps over
    counts from before the leap.
    """
    day = house_clock(plan, 0.0).date()
    local = datetime.combine(day, time.fromisoformat(advertised), plan.zone)
    first, second = (local.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    moment = second if first < plan.zero <= second else first
    return (moment - plan.zero).total_seconds()


def _station_warnings(plan: Plan, schedules: tuple[StationSchedule, ...]) -> Iterator[PlanWarning]:
    for station, times in zip(plan.stations, schedules, strict=True):
        yield from _late(plan, station, times.passes["head"])
        closes_s, start_s, lamp = times.strike_closes_s, times.start_s, station.lamp
        if closes_s < start_s - _SAME:
            text = f"the strike window of {station.id} closes {start_s - closes_s:.1f} s before its motor is to start"
            yield PlanWarning("window_before_start", station.id, text)
        if lamp.earliest_s > lamp.douser_limit_s + _SAME:
            text = (
                f"a lamp lit as the strike window of {station.id} opens waits {lamp.earliest_s:g} s behind its douser; "
                f"the limit is {lamp.douser_limit_s:g} s"
            )
            yield PlanWarning("window_over_douser_limit", station.id, text)


def _late(plan: Plan, station: Station, head_s: float) -> Iterator[PlanWarning]:
    if station.advertised is None:
        return
    late_s = head_s - advertised_s(plan, station.advertised)
    if late_s > _SAME:
        head = f"{house_clock(plan, head_s):%H:%M:%S}"
        text = f"the head is at {station.id} at {head}, {late_s:.1f} s after the advertised {station.advertised}"
        yield PlanWarning("late_for_advertised", station.id, text)


def _link_warnings(plan: Plan) -> Iterator[PlanWarning]:
    for link in plan.links:
        upstream, downstream = (plan.stations[plan.station_index[end]] for end in (link.upstream, link.downstream))
        apart_s = abs(downstream.start_offset_s - upstream.start_offset_s)
        if apart_s > link.reserve_s + _SAME:
            text = f"{link.id} are planned to start {apart_s:g} s apart; their link's reserve is {link.reserve_s:g} s"
            yield PlanWarning("offset_over_reserve", link.downstream, text)
        if not link.path_m:
            yield PlanWarning("no_path", link.downstream, f"{link.id} has no path: measure it, or its times are wrong")
        if not link.reserve_s:
            yield PlanWarning(
                "no_reserve", link.downstream, f"{link.id} has no reserve: any difference of speed spends it"
            )
        single = single_stretch(link, plan)
        if not pullable(single, plan):
            text = (
                f"{link.id} is {single.path_ft:.0f} ft over {single.rollers} rollers, too much to pull as one stretch"
            )
            yield PlanWarning("stretch_over_limit", link.downstream, text)


def _print_warnings(plan: Plan) -> Iterator[PlanWarning]:
    tail_ft = plan.film.counter_ft_from_s(plan.tail_s)
    if tail_ft < TAIL_FT - _SAME:
        text = f"the tail leader is {tail_ft:.1f} counter feet; {TAIL_FT:.0f} is common practice"
        yield PlanWarning("tail_short", None, text)
    longest = max(plan.links, key=lambda link: link.transit_s, default=None)
    if longest and plan.tail_s < longest.transit_s - _SAME:
        text = f"the tail runs {plan.tail_s:.1f} s, less than the {longest.transit_s:.1f} s that {longest.id} takes"
        yield PlanWarning("tail_under_path", None, text)
    print_m, deck_m = plan.film.m_from_s(plan.print_s), roll_length(DECK_M, RING_M, PRINT_THICKNESS_M)
    if print_m > deck_m:
        text = f"the print is {print_m:.0f} m long; a deck of {DECK_M:.2f} m holds about {deck_m:.0f} m"
        yield PlanWarning("print_over_deck", None, text)
