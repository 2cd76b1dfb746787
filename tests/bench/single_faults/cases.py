"""One fault of one kind in each show: which kinds there are, and what each makes of a show that is otherwise clean."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from adapters.drill import Drill, Scenario, Truth, simulate
from adapters.drill.chance import Chance
from adapters.drill.nature import true_ahead_s
from adapters.drill.observers import source_of
from adapters.drill.scenario import Fault, FoilMissing, PrintOff, RateFault, TailOff, WrongTap
from server.timeline.events import Event, at_us, order_key
from server.timeline.plan import Plan
from tests.bench.single_faults.best import RAMP_S, Effect, FaultBatch
from tests.bench.single_faults.naming import WHOLE_CHAIN, WHOLE_PRINT, Named
from tests.bench.single_faults.telling import Late, Stray, Swapped, moved, put_right, strays_of, told_late
from tests.bench.truth.measures import true_events
from tests.bench.truth.shows import PATHS_FT, Show, plan_of

PATH_SHARE = 0.03
LEADER_FT = 5.0
CONTACT_LATE_S = 0.15
CLOCK_OFF_S = 1.5
_PPM = 1e6
_PATH_SD = 2.0
# A reserve would be spent within this.
_SPENT_IN_S = (600.0, 3600.0)
_FILM_S = (0.3, 1.5)
# chosen: all motors together are off by as much as the drill's mains are
_MAINS_PPM = (1000.0, 4000.0)
# chosen: a ramp in so many steps, each too small to be seen by itself
_RAMP_STEPS = 60
# chosen: paths of which three in a hundred are over four seconds of film
_LONG_FT = 100.0
# chosen: far enough for two closings of a contact, and nearer than any other mark
_STRAY_S = (2.0, 8.0)
# chosen: with what nature does beside it, the tail is surely outside three `tail_sigma_s`
_TAIL_SD = 7.0
_TAIL_SHARE = 0.8
# chosen: faults begin in this share of the print's running time
_DURING = (0.05, 0.6)


@dataclass(frozen=True)
class Single:
    """The one fault of a show.

    `right` is what it should be told as, `places` are the stations and links at which it shows. `size` is how large it
    is, in the unit of `effect`; 0 where it has none. `paths_ft` are the paths as they truly are, but for nature.
    """

    right: Named
    places: frozenset[str]
    size: float = 0.0
    effect: Effect = field(default_factory=Effect)
    faults: tuple[Fault, ...] = ()
    paths_ft: tuple[float, ...] = PATHS_FT
    late: Late | None = None
    stray: Stray | None = None
    swapped: Swapped | None = None


class Draw:
    """A plan and the chance to choose places, times and sizes in it."""

    def __init__(self, plan: Plan, show: Show) -> None:
        self.plan = plan
        self.show = show
        self.rng = Chance(show.seed).stream("single", show.scenario)

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def signed(self, low: float, high: float) -> float:
        return float(self.rng.choice((-1.0, 1.0))) * self.between(low, high)

    def below(self, number: int) -> int:
        return int(self.rng.integers(number))

    def time_s(self) -> float:
        return self.between(*_DURING) * self.plan.print_s

    def cue(self, *, first: int = 0) -> str:
        cues = [mark.id for mark in self.plan.marks if mark.cue][first:]
        return cues[self.below(len(cues))]

    def rate(self) -> float:
        """Such that it spends a reserve in ten minutes to an hour; either way."""
        return self.signed(1.0, 1.0) * self.plan.timing.reserve_s / self.between(*_SPENT_IN_S)

    def beside(self, *stations: int) -> frozenset[str]:
        """Stations, and the links beside them."""
        ids = {self.plan.stations[k].id for k in stations}
        return frozenset(ids | {link.id for link in self.plan.links if ids & {link.upstream, link.downstream}})

    def everywhere(self) -> frozenset[str]:
        return self.beside(*range(len(self.plan.stations)))


class Kind(NamedTuple):
    """One kind of fault: in which wirings it makes sense, what it is, and how it is made."""

    wired: tuple[str, ...]
    text: str
    make: Callable[[Draw], Single]


class Case(NamedTuple):
    """One show with its fault: what is told of it, what is true of it, and the best that can be known of it.

    `since_s` is from when on the fault shows, `known_s` when it could be known (None: never). `by_nature` is what may
    be named besides, as it is so: paths that are off by more than two standard deviations of what is planned.
    """

    plan: Plan
    single: Single
    events: list[Event]
    truth: Truth
    best: FaultBatch
    since_s: float
    known_s: float | None
    by_nature: frozenset[Named]


def case_of(show: Show) -> Case:
    """Simulate one show."""
    plan = plan_of(show.wired)
    single = single_of(show, plan)
    scenario = Scenario(show.scenario, KINDS[show.scenario].text, single.faults)
    drill = simulate(plan_of(show.wired, paths_ft=single.paths_ft), scenario, show.seed)
    truth = replace(drill.truth, plan=plan)
    events = in_order(told(drill.events, single, truth), plan)
    effect, seen = _best_told(Drill(events, truth), single)
    best = FaultBatch(plan, seen, effect)
    since_s = _since_s(single, truth)
    known_s = best.known_s(since_s) if effect.sigma > 0.0 else _shown_s(single, truth, events)
    return Case(plan, single, events, truth, best, since_s, known_s, _paths_off(plan, drill.truth, show.seed))


def _paths_off(plan: Plan, truth: Truth, seed: int) -> frozenset[Named]:
    """By nature, and as they were made: `truth` is by the plan with paths as they are."""
    ahead_s = true_ahead_s(truth.plan, Scenario("", ""), Chance(seed))
    off_s = np.diff(ahead_s) - [link.transit_s for link in plan.links]
    allowed_s = (
        _PATH_SD * plan.timing.path_tolerance_percent / 100.0 * np.array([link.transit_s for link in plan.links])
    )
    return frozenset(Named("path", plan.links[i].id) for i in np.flatnonzero(np.abs(off_s) > allowed_s))


def single_of(show: Show, plan: Plan) -> Single:
    """The fault of one show."""
    return KINDS[show.scenario].make(Draw(plan, show))


def in_order(events: Sequence[Event], plan: Plan) -> list[Event]:
    """The events in order of time."""
    return sorted(events, key=lambda event: order_key(event, plan))


def told(events: Sequence[Event], single: Single, truth: Truth) -> list[Event]:
    """What is told of a show, given what would be if all that tells of it were well."""
    found = list(events)
    if single.late is not None:
        found = told_late(found, single.late, truth.plan)
    if single.stray is not None:
        found += strays_of(truth, single.stray)
    return found


def _best_told(drill: Drill, single: Single) -> tuple[Effect, list[Event]]:
    """The fault and the events as whoever is told of the fault takes them."""
    plan, events = drill.truth.plan, true_events(drill, drill.events)
    if single.swapped is not None:
        events += put_right(drill.events, single.swapped)
    if single.effect.shape != "start" or single.late is None:
        return single.effect, in_order(events, plan)
    # All motors start together: by how much those of one clock seem not to is by how much it is off.
    stations = [plan.stations[k].id for k in sorted(single.effect.stations)]
    off_s, sd_s = _apart_s(events, stations, plan)
    events = [moved(event, -off_s) if event.source == single.late.source else event for event in events]
    return replace(single.effect, mean=off_s, sigma=sd_s), in_order(events, plan)


def _apart_s(events: Sequence[Event], stations: Sequence[str], plan: Plan) -> tuple[float, float]:
    """How much later these stations' motors were told to start than the others', and its standard deviation."""
    starts_s: dict[str, float] = {}
    for event in events:
        if event.kind == "motor_start" and event.station is not None:
            starts_s.setdefault(event.station, at_us(event, plan) / 1e6)
    these = [starts_s[station] for station in stations]
    others = [at_s for station, at_s in starts_s.items() if station not in stations]
    spread_s = np.hypot(plan.timing.start_spread_s, plan.timing.contact_sigma_s)
    sd_s = float(spread_s) * (1.0 / len(these) + 1.0 / len(others)) ** 0.5
    return float(np.mean(these) - np.mean(others)), sd_s


def _since_s(single: Single, truth: Truth) -> float:
    """From when on the fault shows: not before the motors run, and of one mark not before that passes a gate."""
    first_s = max(at_s for at_s in truth.starts_s.values() if at_s is not None) + 1.0
    first = truth.passes[truth.plan.stations[0].id]
    if single.right.subject in first:
        return max(first_s, first[single.right.subject])
    if single.swapped is not None:
        return max(first_s, first[single.swapped.mark])
    return max(first_s, first["end"] if single.right.kind == "tail" else single.effect.at_s)


def _shown_s(single: Single, truth: Truth, events: Sequence[Event]) -> float | None:
    """When a fault without a size could be known.

    Of a foil at the second gate: at the first it may be the detector. Of a swap once both taps were told, of a tail
    once the first gate was told to have lost the film.
    """
    plan = truth.plan
    if single.stray is not None:
        return _nth_s([event for event in events if event.id.startswith("stray-")], 1, plan)
    if single.swapped is not None:
        return _nth_s(put_right(events, single.swapped), 1, plan)
    if single.right.kind == "tail":
        ends = [event for event in events if event.kind in {"film_trip", "motor_stop"}]
        return _nth_s([event for event in ends if event.station == plan.stations[0].id], 0, plan)
    return truth.passes[plan.stations[1].id][single.right.subject]


def _nth_s(events: Sequence[Event], n: int, plan: Plan) -> float | None:
    return at_us(events[n], plan) / 1e6 if n < len(events) else None


def _runs_off(draw: Draw) -> Single:
    k, at_s, rate = draw.below(len(draw.plan.stations)), draw.time_s(), draw.rate()
    station = draw.plan.stations[k].id
    effect = Effect(0.003, at_s=at_s, shape="rate", stations=frozenset({k}))
    return Single(Named("motor_rate", station), draw.beside(k), rate, effect, (RateFault(station, at_s, rate * _PPM),))


def _slows(draw: Draw) -> Single:
    """In steps of a constant rate, each in the middle of its part of the ramp."""
    k, at_s, rate = draw.below(len(draw.plan.stations)), draw.time_s(), -abs(draw.rate())
    station, step_s = draw.plan.stations[k].id, RAMP_S / _RAMP_STEPS
    steps = tuple(RateFault(station, at_s + (n + 0.5) * step_s, rate / _RAMP_STEPS * _PPM) for n in range(_RAMP_STEPS))
    effect = Effect(0.003, at_s=at_s, shape="ramp", stations=frozenset({k}))
    return Single(Named("motor_rate", station), draw.beside(k), rate, effect, steps)


def _mains(draw: Draw) -> Single:
    at_s, ppm = draw.time_s(), draw.signed(*_MAINS_PPM)
    effect = Effect(0.01, at_s=at_s, shape="rate", stations=frozenset(range(len(draw.plan.stations))))
    fault = RateFault(None, at_s, ppm)
    return Single(Named("all_rates", WHOLE_CHAIN), draw.everywhere(), ppm / _PPM, effect, (fault,))


def _film_lost(draw: Draw) -> Single:
    """Film that the sprockets gain or lose at once: no other way to feed at twice the speed, or not at all."""
    k, at_s, film_s = draw.below(len(draw.plan.stations)), draw.time_s(), draw.signed(*_FILM_S)
    station = draw.plan.stations[k].id
    fault = RateFault(station, at_s, float(np.sign(film_s)) * _PPM, at_s + abs(film_s))
    effect = Effect(1.0, at_s=at_s, shape="jump", stations=frozenset({k}))
    return Single(Named("film_lost", station), draw.beside(k), film_s, effect, (fault,))


def _path_wrong(draw: Draw) -> Single:
    """Wrong by just that much of what is planned: the tape is made so much longer or shorter that with nature it is."""
    plan = draw.plan
    long = [i for i in range(len(plan.links)) if PATHS_FT[i + 1] >= _LONG_FT]
    i, share = long[draw.below(len(long))], draw.signed(PATH_SHARE, PATH_SHARE)
    link = plan.links[i]
    natural_s = np.diff(true_ahead_s(plan, Scenario("", ""), Chance(draw.show.seed))).tolist()[i]
    true_s = link.transit_s * (1.0 + share)
    paths_ft = (*PATHS_FT[: i + 1], PATHS_FT[i + 1] * true_s / natural_s, *PATHS_FT[i + 2 :])
    effect = Effect(0.05 * link.transit_s, link=i)
    places = draw.beside(*range(i + 1, len(plan.stations)))
    return Single(Named("path", link.id), places, share * link.transit_s, effect, paths_ft=paths_ft)


def _leader_wrong(draw: Draw) -> Single:
    by_s = draw.signed(1.0, 1.0) * draw.plan.film.s_from_counter_ft(LEADER_FT)
    first = next(mark for mark in draw.plan.marks if mark.cue)
    effect = Effect(4.0, splice_s=first.x_s)
    return Single(Named("leader", WHOLE_PRINT), draw.everywhere(), by_s, effect, (PrintOff(first.id, by_s),))


def _spliced(draw: Draw) -> Single:
    mark, by_s = draw.cue(first=1), draw.signed(*_FILM_S)
    effect = Effect(1.0, splice_s=draw.plan.mark(mark).x_s)
    return Single(Named("splice", mark), draw.everywhere(), by_s, effect, (PrintOff(mark, by_s),))


def _foil_missing(draw: Draw) -> Single:
    mark = draw.cue()
    return Single(Named("foil_missing", mark), draw.everywhere(), faults=(FoilMissing(mark),))


def _foil_doubled(draw: Draw) -> Single:
    stray = Stray(draw.cue(), draw.between(*_STRAY_S))
    return Single(Named("foil_doubled", stray.mark), draw.everywhere(), stray=stray)


def _late_contact(draw: Draw) -> Single:
    """From the start in every second show, else from some moment on."""
    k = draw.below(len(draw.plan.stations))
    from_s = draw.time_s() if draw.show.seed % 2 else -np.inf
    station = draw.plan.stations[k]
    source = source_of("contact", station.booth)
    late = Late(source, CONTACT_LATE_S, from_s, station.id)
    effect = Effect(0.3, at_s=from_s, source=source, station=station.id)
    return Single(Named("late_contact", station.id), draw.beside(k), CONTACT_LATE_S, effect, late=late)


def _clock_off(draw: Draw) -> Single:
    """From the start in every second show, else from some moment on.

    From the start its motors' starts are dated so too, so that its passes fit them.
    Where its booth's passes are tapped it shows in the starts alone.
    """
    booths = list(dict.fromkeys(station.booth for station in draw.plan.stations))
    booth = booths[draw.below(len(booths))]
    by_s = draw.signed(CLOCK_OFF_S, CLOCK_OFF_S)
    later = draw.show.wired == "contacts" and draw.show.seed % 2 == 1
    from_s = draw.time_s() if later else -np.inf
    stations = [k for k, station in enumerate(draw.plan.stations) if station.booth == booth]
    source = source_of("contact", booth)
    effect = Effect(CLOCK_OFF_S, at_s=from_s + by_s, source=source)
    if not later:
        effect = replace(effect, shape="start", stations=frozenset(stations))
    late = Late(source, by_s, from_s)
    return Single(Named("clock", source), draw.beside(*stations), by_s, effect, late=late)


def _taps_swapped(draw: Draw) -> Single:
    k, mark = draw.below(len(draw.plan.links)), draw.cue()
    link = draw.plan.links[k]
    ends = link.upstream, link.downstream
    slips = WrongTap(ends[0], mark, as_station=ends[1]), WrongTap(ends[1], mark, as_station=ends[0])
    return Single(Named("taps_swapped", link.id), draw.beside(k, k + 1), faults=slips, swapped=Swapped(ends, mark))


def _tail_off(draw: Draw) -> Single:
    by_s = draw.signed(_TAIL_SD * draw.plan.timing.tail_sigma_s, _TAIL_SHARE * draw.plan.tail_s)
    return Single(Named("tail", WHOLE_PRINT), draw.everywhere(), faults=(TailOff(by_s),))


_ALL = ("contacts", "taps", "hands")
KINDS: dict[str, Kind] = {
    "runs_off": Kind(_ALL, "One motor runs off at an even rate.", _runs_off),
    "slows": Kind(_ALL, "One motor slows over twenty minutes.", _slows),
    "mains": Kind(_ALL, "The mains change, and all motors with them.", _mains),
    "film_lost": Kind(_ALL, "Film is lost or gained once at one gate.", _film_lost),
    "path_wrong": Kind(_ALL, "One path is wrong by three in a hundred.", _path_wrong),
    "leader_wrong": Kind(_ALL, "The head leader is wrong by five feet.", _leader_wrong),
    "spliced": Kind(_ALL, "One reel was spliced short or long.", _spliced),
    "foil_missing": Kind(("contacts",), "One foil is off the print.", _foil_missing),
    "foil_doubled": Kind(("contacts",), "One foil is followed by a stray one.", _foil_doubled),
    "late_contact": Kind(("contacts",), "One cue contact tells everything late.", _late_contact),
    "clock_off": Kind(("contacts", "taps"), "All contacts of one booth are dated wrong.", _clock_off),
    "taps_swapped": Kind(("taps", "hands"), "Two houses tap one pass each for the other.", _taps_swapped),
    "tail_off": Kind(_ALL, "The tail is much shorter or longer than planned.", _tail_off),
}
"""Every kind of fault, by name."""


def shows_of(number: int, seed: int, only: str | None = None, wired: str | None = None) -> list[Show]:
    """So many shows of each kind in each wiring in which it makes sense; shows of one seed have the same nature."""
    return [
        Show(way, name, seed + n)
        for name, kind in KINDS.items()
        for way in kind.wired
        for n in range(number)
        if only in {None, name} and wired in {None, way}
    ]
