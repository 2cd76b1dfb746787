"""The whole chain in motion: motors are started and stopped, reserves run out, failsafes trip, the crew steps in.

Time goes from one order to the next. Before each, every link is asked whether its reserve is spent first.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count, pairwise
from math import inf
from typing import Literal, NamedTuple

import numpy as np

from adapters.drill.chance import Chance, at_least_zero
from adapters.drill.facts import Fact
from adapters.drill.motion import Curve, first_past_s
from adapters.drill.motors import Inch, Motor, RateStep, Spell, wander
from adapters.drill.scenario import ChainStop, LateMotor, MotorStop, RateFault, Scenario, TripAt
from server.timeline.plan import Plan

# All chosen.
_SPARE_S = 900.0
_CLEAR_AFTER_S = (5.0, 20.0)
_FALLS_FOR_S = (0.5, 2.0)
_INCH_ENDS_S = 8.0
_READ_BEFORE_S = 4.0
_INCH_SD_S = 0.05
_STOPS_SPREAD = 0.35


class Spent(NamedTuple):
    """A link whose failsafe reserve is spent: when, and the slack then (over +, under -)."""

    link: str
    at_s: float
    slack_s: float


class Trip(NamedTuple):
    """A projector whose failsafe tripped, because of one of its links."""

    station: str
    at_s: float
    link: str


class Order(NamedTuple):
    """Something that somebody or something does to motors; `stations` None is all of them."""

    at_s: float
    act: Literal["start", "stop", "rethread"]
    stations: tuple[int, ...] | None
    surprise: bool = False


@dataclass
class _Drive:
    """One station's motor with all that was done to it so far."""

    motor: Motor
    rng: np.random.Generator
    spells: list[Spell] = field(default_factory=list)
    inches: list[Inch] = field(default_factory=list)
    late: bool = False

    @property
    def running(self) -> bool:
        return bool(self.spells) and self.spells[-1].off_s == inf

    def curve(self, until_s: float) -> Curve:
        return self.motor.curve(self.spells, self.inches, until_s)


@dataclass(frozen=True)
class Course:
    """How the chain truly ran: curves by station, and everything that was done or happened to the motors.

    `ahead_s` is the film between the first gate and each by the true paths; `spells` are each motor's times of running;
    `tail_out_s` is when each gate lost the film, None where it never did; `chain_stops` are (when, started again or
    None).
    """

    curves: tuple[Curve, ...]
    ahead_s: tuple[float, ...]
    facts: tuple[Fact, ...]
    spent: tuple[Spent, ...]
    trips: tuple[Trip, ...]
    spells: tuple[tuple[Spell, ...], ...]
    tail_out_s: tuple[float | None, ...]
    chain_stops: tuple[tuple[float, float | None], ...]


class Chain:
    """Works out one Course; `stands_s` is for how long the film may stand beside what the scenario says."""

    def __init__(self, plan: Plan, scenario: Scenario, chance: Chance, stands_s: float = 0.0) -> None:
        self._plan = plan
        self._scenario = scenario
        self._chance = chance
        self._ahead_s = _true_ahead_s(plan, scenario, chance)
        self._until_s = _horizon_s(plan, scenario) + stands_s
        self._drives = [
            _Drive(motor, chance.stream("drive", station.id))
            for motor, station in zip(_motors(plan, scenario, chance, self._until_s), plan.stations, strict=True)
        ]
        self._curves = [drive.curve(self._until_s) for drive in self._drives]
        self._trip_at_s = _trip_reserves_s(plan, scenario)
        self._armed_from_s = [0.0] * len(plan.links)
        self._facts: list[Fact] = []
        self._spent: list[Spent] = []
        self._trips: list[Trip] = []
        self._stops: list[tuple[float, float | None]] = []
        self._orders: list[tuple[float, int, Order]] = []
        self._numbers = count()
        self._stop_is_coming = False

    def run(self) -> Course:
        """Carry out every order in turn, and every trip between them, then let the crew stop what has run out."""
        self._first_orders()
        while True:
            spent = self._next_spent(self._orders[0][0] if self._orders else self._until_s)
            if spent is not None:
                self._spend(*spent)
            elif self._orders:
                self._carry_out(heappop(self._orders)[2])
            else:
                break
        tail_out_s = self._stop_when_out()
        return Course(
            curves=tuple(self._curves),
            ahead_s=self._ahead_s,
            facts=tuple(self._facts),
            spent=tuple(self._spent),
            trips=tuple(self._trips),
            spells=tuple(tuple(drive.spells) for drive in self._drives),
            tail_out_s=tail_out_s,
            chain_stops=tuple(self._stops),
        )

    def _first_orders(self) -> None:
        self._order_first_start(self._scenario.late_s)
        self._order_pauses()

    def _order_first_start(self, at_s: float) -> None:
        scenario, index = self._scenario, self._plan.station_index
        late = {fault.station: fault.late_s for fault in scenario.of(LateMotor)}
        punctual = tuple(k for k, station in enumerate(self._plan.stations) if station.id not in late)
        self._order(Order(at_s, "start", punctual))
        for station, late_s in late.items():
            if late_s is not None:
                planned_s = at_s + self._plan.stations[index[station]].start_offset_s
                self._order(Order(planned_s + late_s, "start", (index[station],)))

    def _order_pauses(self) -> None:
        scenario, index = self._scenario, self._plan.station_index
        for stop in scenario.of(MotorStop):
            self._order_pause(stop.at_s, stop.for_s, (index[stop.station],), surprise=True)
        for halt in scenario.of(ChainStop):
            self._order_pause(halt.at_s, halt.for_s, None)

    def _order_pause(
        self, at_s: float, for_s: float | None, stations: tuple[int, ...] | None, *, surprise: bool = False
    ) -> None:
        self._order(Order(at_s, "stop", stations, surprise))
        if for_s is not None:
            self._order(Order(at_s + for_s, "start", stations))

    def _order(self, order: Order) -> None:
        heappush(self._orders, (order.at_s, next(self._numbers), order))

    def _carry_out(self, order: Order) -> None:
        if order.act == "rethread":
            self._rethread(order.at_s)
        elif order.act == "start":
            self._start(order)
        else:
            self._stop(order)

    def _start(self, order: Order) -> None:
        """Start motors: the first time at their planned offsets, later all at once."""
        first = not any(drive.spells for drive in self._drives)
        together = order.stations is None or first
        stations = [k for k in self._stations(order) if not self._drives[k].running and not self._is_out(k, order.at_s)]
        offsets_s = [self._plan.stations[k].start_offset_s if first else 0.0 for k in stations]
        with_chain = together and not any(offsets_s)
        for k, offset_s in zip(stations, offsets_s, strict=True):
            self._start_one(k, order.at_s + offset_s, together=together, with_chain=with_chain)
        if with_chain and stations:
            self._facts.append(Fact(order.at_s, "chain_start"))
            self._stop_is_coming = False
            if self._stops and self._stops[-1][1] is None:
                self._stops[-1] = (self._stops[-1][0], order.at_s)

    def _start_one(self, k: int, at_s: float, *, together: bool, with_chain: bool) -> None:
        drive, timing, nature = self._drives[k], self._plan.timing, self._scenario.nature
        spread_s = timing.start_spread_s * nature.start * float(drive.rng.standard_normal()) if together else 0.0
        lost_s = at_least_zero(drive.rng, timing.runup_loss_s, timing.runup_sigma_s * nature.runup)
        earliest_s = drive.spells[-1].off_s if drive.spells else -inf
        spell = Spell(max(at_s + spread_s, earliest_s), inf, lost_s, timing.coast_s)
        drive.spells.append(spell)
        self._redraw(k)
        self._facts.append(Fact(spell.on_s, "motor_start", self._plan.stations[k].id, with_chain=with_chain))

    def _stop(self, order: Order) -> None:
        stations = [k for k in self._stations(order) if self._drives[k].running and not self._is_out(k, order.at_s)]
        whole = order.stations is None
        for k in stations:
            drive = self._drives[k]
            spread_s = self._plan.timing.start_spread_s * self._scenario.nature.start if whole else 0.0
            at_s = order.at_s + spread_s * float(drive.rng.standard_normal())
            self._stop_one(k, at_s, with_chain=whole, surprise=order.surprise)
        if whole and stations:
            self._facts.append(Fact(order.at_s, "chain_stop"))
            self._stops.append((order.at_s, None))

    def _stop_one(self, k: int, at_s: float, *, with_chain: bool = False, surprise: bool = False) -> None:
        drive = self._drives[k]
        at_s = max(at_s, drive.spells[-1].on_s)
        drive.spells[-1] = drive.spells[-1]._replace(off_s=at_s)
        self._redraw(k)
        station = self._plan.stations[k].id
        self._facts.append(Fact(at_s, "motor_stop", station, with_chain=with_chain, surprise=surprise))

    def _rethread(self, at_s: float) -> None:
        """Take film through each standing projector by hand until no link is loose or tight, and read every link.

        One that nothing feeds any more holds no slack.
        """
        moving = [k for k in range(len(self._drives)) if not self._is_out(k, at_s)]
        level_s = max(self._curves[k].count_at(at_s) for k in moving)
        for k in moving:
            drive = self._drives[k]
            film_s = level_s - self._curves[k].count_at(at_s) + abs(_INCH_SD_S * float(drive.rng.standard_normal()))
            drive.inches.append(Inch(at_s - film_s, film_s))
            self._redraw(k)
        for link, (up, down) in zip(self._plan.links, pairwise(range(len(self._drives))), strict=True):
            if up in moving:
                true_s = self._curves[up].count_at(at_s) - self._curves[down].count_at(at_s)
                self._facts.append(Fact(at_s + _READ_BEFORE_S, "slack_read", link.downstream, seconds=true_s))
        self._armed_from_s = [at_s] * len(self._plan.links)

    def _next_spent(self, until_s: float) -> tuple[float, int, float] | None:
        """The link whose reserve is spent first before `until_s`: when, its number, and its slack then."""
        found: list[tuple[float, int, float]] = []
        for i, (up, down) in enumerate(pairwise(range(len(self._drives)))):
            out_s = self._tail_out_s(up)
            end_s = min(until_s, inf if out_s is None else out_s)
            if self._armed_from_s[i] >= end_s:
                continue
            curves = self._curves[up], self._curves[down]
            past = first_past_s(*curves, self._trip_at_s[i], self._armed_from_s[i], end_s)
            if past is not None:
                found.append((past[0], i, past[1]))
        return min(found, default=None)

    def _spend(self, at_s: float, i: int, slack_s: float) -> None:
        """The reserve of link `i` is spent: the projector it feeds trips, and the crew is on its way to stop all."""
        link = self._plan.links[i]
        self._armed_from_s[i] = inf
        self._spent.append(Spent(link.id, at_s, slack_s))
        down = i + 1
        if self._drives[down].running:
            falls_s = float(self._drives[down].rng.uniform(*_FALLS_FOR_S)) if slack_s > 0.0 else 0.0
            self._trip(down, at_s + falls_s, link.id)
        if not self._stop_is_coming:
            self._call_crew(at_s)

    def _trip(self, k: int, at_s: float, link: str) -> None:
        station = self._plan.stations[k].id
        self._trips.append(Trip(station, at_s, link))
        self._facts.append(Fact(at_s, "film_trip", station, surprise=True))
        self._stop_one(k, at_s, surprise=True)

    def _call_crew(self, at_s: float) -> None:
        self._stop_is_coming = True
        rng = self._chance.stream("stops", str(len(self._stops)))
        stop_s = at_s + self._scenario.crew.stops_after_s * float(rng.lognormal(0.0, _STOPS_SPREAD))
        if self._scenario.restart_after_s is None:
            self._orders.clear()
        self._order(Order(stop_s, "stop", None))
        if self._scenario.restart_after_s is not None:
            start_s = stop_s + self._scenario.restart_after_s
            self._order(Order(start_s - _INCH_ENDS_S, "rethread", None))
            self._order(Order(start_s, "start", None))

    def _stop_when_out(self) -> tuple[float | None, ...]:
        """Stop every motor whose gate the film has left, a little later."""
        outs_s = tuple(self._tail_out_s(k) for k in range(len(self._drives)))
        for k, out_s in enumerate(outs_s):
            if out_s is not None and self._drives[k].running:
                self._stop_one(k, out_s + float(self._drives[k].rng.uniform(*_CLEAR_AFTER_S)))
        return outs_s

    def _stations(self, order: Order) -> Sequence[int]:
        return range(len(self._drives)) if order.stations is None else order.stations

    def _tail_out_s(self, k: int) -> float | None:
        return self._curves[k].time_at(self._plan.print_s + self._ahead_s[k])

    def _is_out(self, k: int, at_s: float) -> bool:
        out_s = self._tail_out_s(k)
        return out_s is not None and out_s <= at_s

    def _redraw(self, k: int) -> None:
        self._curves[k] = self._drives[k].curve(self._until_s)


def _true_ahead_s(plan: Plan, scenario: Scenario, chance: Chance) -> tuple[float, ...]:
    """The film between the first gate and each gate, by the true paths."""
    ahead_s = [0.0]
    for link in plan.links:
        share = plan.timing.path_tolerance_percent / 100.0 * scenario.nature.path
        error = share * float(chance.stream("path", link.id).standard_normal())
        ahead_s.append(ahead_s[-1] + link.transit_s * (1.0 + error))
    return tuple(ahead_s)


def _motors(plan: Plan, scenario: Scenario, chance: Chance, until_s: float) -> list[Motor]:
    timing, nature = plan.timing, scenario.nature
    mains_ppm = timing.line_tolerance_ppm * nature.line * float(chance.stream("mains").standard_normal())
    motors = []
    for station in plan.stations:
        rng = chance.stream("motor", station.id)
        own_ppm = timing.rate_tolerance_ppm * nature.rate * float(rng.standard_normal())
        walk_ppm = wander(rng, timing.rate_walk_ppm_per_sqrt_hour * nature.walk, until_s)
        motors.append(Motor(mains_ppm + own_ppm, walk_ppm, _rate_steps(scenario, station.id)))
    return motors


def _rate_steps(scenario: Scenario, station: str) -> tuple[RateStep, ...]:
    return tuple(
        RateStep(fault.at_s, inf if fault.until_s is None else fault.until_s, fault.ppm)
        for fault in scenario.of(RateFault)
        if fault.station in (None, station)
    )


def _trip_reserves_s(plan: Plan, scenario: Scenario) -> list[float]:
    """The slack at which each link's failsafe trips."""
    other = {fault.link: fault.slack_s for fault in scenario.of(TripAt)}
    return [other.get(link.id, link.reserve_s) for link in plan.links]


def _horizon_s(plan: Plan, scenario: Scenario) -> float:
    """Later than everything that can happen to the film."""
    pauses: tuple[ChainStop | MotorStop, ...] = (*scenario.of(ChainStop), *scenario.of(MotorStop))
    stands_s = [pause.for_s or 0.0 for pause in pauses]
    slowest = 1.0 - 1e-6 * sum(abs(fault.ppm) for fault in scenario.of(RateFault) if abs(fault.ppm) < 1e5)
    film_s = (plan.print_s + plan.ahead_s[-1] * 1.1) / max(0.5, slowest - 0.02)
    offsets_s = max(station.start_offset_s for station in plan.stations)
    return scenario.late_s + offsets_s + film_s + sum(stands_s) + (scenario.restart_after_s or 0.0) + _SPARE_S
