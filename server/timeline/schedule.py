"""What follows from a plan: every start, pass, strike window and clear time, the threading, and what looks wrong.

All times are seconds after `motors_at`, none rounded. Warning codes, with the station each is about:

| code | station | meaning |
| --- | --- | --- |
| `late_for_advertised` | the late one | the head comes after the advertised time |
| `early_for_advertised` | the early one | the head comes over a minute before the advertised time |
| `offset_over_reserve` | downstream | it is planned to start further from its neighbour than their link's reserve |
| `window_before_start` | the one | its strike window has closed before its motor is to start |
| `window_over_douser_limit` | the one | a lamp lit as the window opens is shut in for longer than the douser stands |
| `no_path` | downstream | the path to it is not given, or 0 |
| `no_reserve` | downstream | the link to it has no reserve |
| `reserve_short_lived` | downstream | by what its two motors may differ the reserve is spent before the print is out |
| `stretch_over_limit` | downstream | the path to it is more than can be pulled as one stretch |
| `tail_short` | none | the tail leader is under 150 counter feet |
| `tail_under_path` | none | the tail is shorter than the longest link: all of it is between two gates at once |
| `print_over_deck` | none | the print is longer than a deck holds |
| `archive_film` | none | the film has shrunk by over 0.8 %, as archive prints have |
"""

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Final, NamedTuple

from server.timeline.film import Film
from server.timeline.naming import house_of, link_of
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
EARLY_S: Final = 60.0  # chosen: a head that is earlier than that is missed by guests who come in time
ARCHIVE_PERCENT: Final = 0.8  # of shrinkage, past which film is not run: common practice, no source

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


def advertised_s(plan: Plan, advertised: str, near_s: float = 0.0) -> float:
    """Seconds from `motors_at` to an advertised `HH:MM`, on that local day which brings it nearest to `near_s`.

    So a show over midnight is not a day off. An hour that the clock goes through twice is the first that is not past
    at `motors_at`; one that it leaps over counts from before the leap.
    """
    today = house_clock(plan, 0.0).date()
    days = (today + timedelta(days=days) for days in (-1, 0, 1))
    return min((_on_day_s(plan, advertised, day) for day in days), key=lambda at_s: abs(at_s - near_s))


def _on_day_s(plan: Plan, advertised: str, day: date) -> float:
    local = datetime.combine(day, time.fromisoformat(advertised), plan.zone)
    first, second = (local.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    moment = second if first < plan.zero <= second else first
    return (moment - plan.zero).total_seconds()


def _station_warnings(plan: Plan, schedules: tuple[StationSchedule, ...]) -> Iterator[PlanWarning]:
    for k, (station, times) in enumerate(zip(plan.stations, schedules, strict=True)):
        house = house_of(plan, k)
        yield from _at_another_time(plan, station, house, times.passes["head"])
        closes_s, start_s, lamp = times.strike_closes_s, times.start_s, station.lamp
        if closes_s < start_s - _SAME:
            text = f"{house}: the strike window closes {start_s - closes_s:.1f} s before the motor is to start"
            yield PlanWarning("window_before_start", station.id, text)
        if lamp.earliest_s > lamp.douser_limit_s + _SAME:
            text = (
                f"{house}: a lamp lit as the strike window opens waits {lamp.earliest_s:g} s behind its douser; "
                f"the limit is {lamp.douser_limit_s:g} s"
            )
            yield PlanWarning("window_over_douser_limit", station.id, text)


def _at_another_time(plan: Plan, station: Station, house: str, head_s: float) -> Iterator[PlanWarning]:
    """Whether a head comes at another time than guests were told."""
    if station.advertised is None:
        return
    late_s = head_s - advertised_s(plan, station.advertised, head_s)
    head = f"{house}: the head is at the gate at {house_clock(plan, head_s):%H:%M:%S}"
    if late_s > _SAME:
        text = f"{head}, {_span(late_s)} after the advertised {station.advertised}"
        yield PlanWarning("late_for_advertised", station.id, text)
    if late_s < -EARLY_S - _SAME:
        text = f"{head}, {_span(-late_s)} before the advertised {station.advertised}"
        yield PlanWarning("early_for_advertised", station.id, text)


def _span(seconds: float) -> str:
    """A length of time, no finer than matters: seconds under two minutes, else minutes."""
    if seconds < 120.0:
        return f"{seconds:.1f} s"
    return f"{seconds / 60.0:.1f} minutes" if seconds < 600.0 else f"{seconds / 60.0:.0f} minutes"


def _link_warnings(plan: Plan) -> Iterator[PlanWarning]:
    for i, link in enumerate(plan.links):
        name, upstream, downstream = link_of(plan, i), plan.stations[i], plan.stations[i + 1]
        apart_s = abs(downstream.start_offset_s - upstream.start_offset_s)
        if apart_s > link.reserve_s + _SAME:
            text = f"{name}: the motors are planned to start {apart_s:g} s apart; the reserve is {link.reserve_s:g} s"
            yield PlanWarning("offset_over_reserve", link.downstream, text)
        if not link.path_m:
            yield PlanWarning("no_path", link.downstream, f"{name}: no path is given; measure it, or times are wrong")
        if not link.reserve_s:
            text = f"{name}: there is no reserve; any difference of speed spends it"
            yield PlanWarning("no_reserve", link.downstream, text)
        yield from _short_lived(plan, i, link)
        single = single_stretch(link, plan)
        if not pullable(single, plan):
            text = f"{name}: {single.path_ft:.0f} ft over {single.rollers} rollers are too much to pull as one stretch"
            yield PlanWarning("stretch_over_limit", link.downstream, text)


def _short_lived(plan: Plan, i: int, link: Link) -> Iterator[PlanWarning]:
    """Two motors that each differ by their tolerance, one standard deviation, drift apart by the root of two of it."""
    tolerance_ppm = plan.timing.rate_tolerance_ppm
    runs_s = plan.print_s + plan.ahead_s[i]  # until the film's end leaves the gate above
    spends_s = link.reserve_s / (math.sqrt(2.0) * tolerance_ppm * 1e-6) if tolerance_ppm else math.inf
    if link.reserve_s and spends_s < runs_s - _SAME:
        text = (
            f"{link_of(plan, i)}: motors that each differ by {tolerance_ppm:g} ppm, one standard deviation, "
            f"spend the reserve in "
            f"{_span(spends_s)}; the print runs {_span(runs_s)}"
        )
        yield PlanWarning("reserve_short_lived", link.downstream, text)


def _print_warnings(plan: Plan) -> Iterator[PlanWarning]:
    tail_ft = plan.film.counter_ft_from_s(plan.tail_s)
    if tail_ft < TAIL_FT - _SAME:
        text = f"The tail leader is {tail_ft:.1f} counter feet; {TAIL_FT:.0f} is common practice"
        yield PlanWarning("tail_short", None, text)
    transits_s = [link.transit_s for link in plan.links]
    if transits_s and plan.tail_s < max(transits_s) - _SAME:
        link = link_of(plan, transits_s.index(max(transits_s)))
        text = f"The tail runs {plan.tail_s:.1f} s, less than the {max(transits_s):.1f} s that {link} takes"
        yield PlanWarning("tail_under_path", None, text)
    print_m, deck_m = plan.film.m_from_s(plan.print_s), roll_length(DECK_M, RING_M, PRINT_THICKNESS_M)
    if print_m > deck_m:
        text = f"The print is {print_m:.0f} m long; a deck of {DECK_M:.2f} m holds about {deck_m:.0f} m"
        yield PlanWarning("print_over_deck", None, text)
    if plan.film.shrinkage_percent > ARCHIVE_PERCENT:
        text = (
            f"This film has shrunk by {plan.film.shrinkage_percent:g} %: never run nitrate or archive prints in a chain"
        )
        yield PlanWarning("archive_film", None, text)
