"""The whole chain in motion: motors are started and stopped, reserves run out, failsafes trip, the crew steps in.

Time goes from one order to the next. Before each, every link is asked whether its reserve is spent first.
"""

from collections.abc import Sequence
from heapq import heapify, heappop, heappush
from itertools import count, pairwise, takewhile
from math import inf
from typing import Final

from adapters.drill.chance import Chance, at_least_zero
from adapters.drill.course import Course, Drive, Order, Spent, Trip
from adapters.drill.facts import Fact
from adapters.drill.motion import first_past_s
from adapters.drill.motors import Inch, Spell
from adapters.drill.nature import film_end_s, horizon_s, print_shifts_s, trip_reserves_s, true_ahead_s, true_motors
from adapters.drill.scenario import ChainStop, LateMotor, MotorStop, NoFailsafe, Scenario
from server.timeline.plan import Plan

INCH_ENDS_S: Final = 20.0
"""Before a restart the film has been taken up by then. Chosen, as are all below."""

# The last words before a restart: what was read or laced, when the chain starts, who is ready.
_CLEAR_AFTER_S: Final = (5.0, 20.0)
_RUNS_OUT_AFTER_S: Final = (0.1, 0.5)
_FALLS_FOR_S: Final = (0.5, 2.0)
_READ_AFTER_S: Final = (2.0, 7.0)
_HOLD_BEFORE_S: Final = 12.0
_READY_BEFORE_S: Final = (3.0, 10.0)
_INCH_SD_S: Final = 0.05
_RELACED_S: Final = 0.25
_INCH_SPEED: Final = 60.0
_STOPS_SPREAD: Final = 0.35


class Chain:
    """Works out one Course; `stands_s` is for how long the film may stand beside what the scenario says."""

    def __init__(self, plan: Plan, scenario: Scenario, chance: Chance, stands_s: float = 0.0) -> None:
        self._plan = plan
        self._scenario = scenario
        self._chance = chance
        self._ahead_s = true_ahead_s(plan, scenario, chance)
        self._end_s = film_end_s(plan, scenario, chance)
        self._until_s = horizon_s(plan, scenario, self._end_s) + stands_s
        self._drives = [
            Drive(motor, chance.stream("drive", station.id))
            for motor, station in zip(true_motors(plan, scenario, chance, self._until_s), plan.stations, strict=True)
        ]
        self._curves = [drive.curve(self._until_s) for drive in self._drives]
        self._trip_at_s = trip_reserves_s(plan, scenario)
        self._armed_from_s = [0.0] * len(plan.links)
        self._facts: list[Fact] = []
        self._spent: list[Spent] = []
        self._trips: list[Trip] = []
        self._stops: list[tuple[float, float | None]] = []
        self._orders: list[tuple[float, int, Order]] = []
        self._numbers = count()
        self._stop_is_coming = False

    def run(self) -> Course:
        """Carry out every order in turn, and every trip between them, then let stop what has run out."""
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
            film_end_s=self._end_s,
            facts=tuple(self._facts),
            spent=tuple(self._spent),
            trips=tuple(self._trips),
            spells=tuple(tuple(drive.spells) for drive in self._drives),
            tail_out_s=tail_out_s,
            chain_stops=tuple(self._stops),
            print_shifts_s=print_shifts_s(self._plan, self._scenario),
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
            k = index[stop.station]
            self._order(Order(stop.at_s, "stop", (k,), surprise=True, alone=stop.for_s is None))
            if stop.for_s is not None:
                self._order(Order(stop.at_s + stop.for_s, "start", (k,)))
        for halt in scenario.of(ChainStop):
            self._order(Order(halt.at_s, "stop"))
            if halt.for_s is not None:
                self._order_readings(halt.at_s + halt.for_s - INCH_ENDS_S, halt.at_s)
                self._order_restart(halt.at_s + halt.for_s, halt.at_s)

    def _order_readings(self, from_s: float, after_s: float) -> None:
        """Every link is read where it stands, unless there is no time for it."""
        rng = self._chance.stream("readings", str(after_s))
        for k in range(1, len(self._drives)):
            at_s = from_s + float(rng.uniform(*_READ_AFTER_S))
            if at_s > after_s:
                self._order(Order(at_s, "read", (k,)))

    def _order_restart(self, start_s: float, after_s: float) -> None:
        """The crew starts the chain again; before that it says when, and each house that it is ready."""
        rng = self._chance.stream("ready", str(after_s))
        if start_s - _HOLD_BEFORE_S > after_s:
            self._order(Order(start_s - _HOLD_BEFORE_S, "hold", seconds=start_s))
        for k in range(len(self._drives)):
            at_s = start_s - float(rng.uniform(*_READY_BEFORE_S))
            if at_s > after_s:
                self._order(Order(at_s, "ready", (k,)))
        self._order(Order(start_s, "start"))

    def _order(self, order: Order) -> None:
        heappush(self._orders, (order.at_s, next(self._numbers), order))

    def _carry_out(self, order: Order) -> None:
        match order.act:
            case "start":
                self._start(order)
            case "stop":
                self._stop(order)
            case "rethread":
                self._rethread(order.at_s)
            case "relace":
                self._relace(order)
            case "read" | "ready" | "hold":
                self._say(order)

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
        spread_s = self._spread_s(k) if together else 0.0
        lost_s = at_least_zero(drive.rng, timing.runup_loss_s, timing.runup_sigma_s * nature.runup)
        spell = Spell(max(at_s + spread_s, drive.start_from_s), inf, lost_s, timing.coast_s)
        drive.spells.append(spell)
        self._redraw(k)
        self._facts.append(Fact(spell.on_s, "motor_start", self._plan.stations[k].id, with_chain=with_chain))

    def _spread_s(self, k: int) -> float:
        """How far one motor is from those that it starts or stops with."""
        spread_s = self._plan.timing.start_spread_s * self._scenario.nature.start
        return spread_s * float(self._drives[k].rng.standard_normal())

    def _stop(self, order: Order) -> None:
        stations = [k for k in self._stations(order) if self._drives[k].running and not self._is_out(k, order.at_s)]
        whole = order.stations is None
        for k in stations:
            at_s = order.at_s + (self._spread_s(k) if whole else 0.0)
            self._stop_one(k, at_s, with_chain=whole, surprise=order.surprise)
        if whole and stations:
            self._facts.append(Fact(order.at_s, "chain_stop"))
        if whole and (stations or self._all_stand()):
            self._stops.append((order.at_s, None))
        for k in [] if whole else stations:
            self._stop_wired(k, order.at_s)
        if order.alone and stations and not self._stop_is_coming and any(drive.running for drive in self._drives):
            self._call_crew(order.at_s)

    def _all_stand(self) -> bool:
        """Whether failsafes have stopped the whole chain before anybody else did."""
        stopped = any(drive.spells for drive in self._drives) and not any(drive.running for drive in self._drives)
        return stopped and (not self._stops or self._stops[-1][1] is not None)

    def _stop_wired(self, k: int, at_s: float) -> None:
        """Stop the motors that are wired to stop with one that has stopped."""
        for other in self._plan.stopped_with[k]:
            if self._drives[other].running and not self._is_out(other, at_s):
                self._stop_one(other, at_s + abs(self._spread_s(other)), surprise=True)

    def _stop_one(self, k: int, at_s: float, *, with_chain: bool = False, surprise: bool = False) -> None:
        drive = self._drives[k]
        at_s = max(at_s, drive.spells[-1].on_s)
        drive.spells[-1] = drive.spells[-1]._replace(off_s=at_s)
        self._redraw(k)
        station = self._plan.stations[k].id
        self._facts.append(Fact(at_s, "motor_stop", station, with_chain=with_chain, surprise=surprise))

    def _rethread(self, at_s: float) -> None:
        """Take film through each standing projector by hand until no link is loose or tight, and read every link.

        One that nothing feeds any more holds no slack; one in which film was taken up was laced anew.
        """
        moving = [k for k, drive in enumerate(self._drives) if not drive.running and not self._is_out(k, at_s)]
        if not moving:
            return
        level_s = max(self._curves[k].count_at(at_s) for k in moving)
        taken_s = [0.0] * len(self._drives)
        for k in moving:
            drive = self._drives[k]
            film_s = level_s - self._curves[k].count_at(at_s) + abs(_INCH_SD_S * float(drive.rng.standard_normal()))
            drive.inches.append(Inch(max(at_s - film_s / _INCH_SPEED, drive.still_from_s), film_s, _INCH_SPEED))
            taken_s[k] = film_s
            self._redraw(k)
        rng = self._chance.stream("readings", str(at_s))
        for down in range(1, len(self._drives)):
            said_s = at_s + float(rng.uniform(*_READ_AFTER_S))
            anew = abs(taken_s[down] - taken_s[down - 1]) > _RELACED_S
            if down - 1 in moving:
                self._facts.append(self._reading(said_s, down)._replace(kind="relaced" if anew else "slack_read"))
        self._armed_from_s = [at_s] * len(self._plan.links)

    def _reading(self, at_s: float, down: int) -> Fact:
        true_s = self._curves[down - 1].count_at(at_s) - self._curves[down].count_at(at_s)
        return Fact(at_s, "slack_read", self._plan.stations[down].id, seconds=true_s)

    def _relace(self, order: Order) -> None:
        """Lace one link whose motors stand to so much slack, and move no other link of film that stands.

        What hangs loose is taken through all that stands below, what is wanting is drawn through all that stands above.
        """
        (down,) = order.stations or ()
        if any(self._drives[k].running for k in (down - 1, down)) or self._is_out(down - 1, order.at_s):
            return
        at_s = max([order.at_s, *(drive.still_from_s for drive in self._drives if not drive.running)])
        film_s = self._curves[down - 1].count_at(at_s) - self._curves[down].count_at(at_s) - order.seconds
        side = range(down, len(self._drives)) if film_s > 0.0 else range(down - 1, -1, -1)
        inch = Inch(at_s, abs(film_s), _INCH_SPEED)
        for k in takewhile(lambda k: not self._drives[k].running, side):
            self._drives[k].inches.append(inch)
            self._redraw(k)
        if abs(order.seconds) < self._trip_at_s[down - 1]:
            self._armed_from_s[down - 1] = inch.until_s

    def _say(self, order: Order) -> None:
        """What is said of film that stands: nobody says it of film that runs."""
        stations = self._stations(order)
        if order.act == "hold":
            if not any(drive.running for drive in self._drives):
                self._facts.append(Fact(order.at_s, "hold", seconds=order.seconds))
        elif order.act == "ready":
            waiting = [k for k in stations if not self._drives[k].running and not self._is_out(k, order.at_s)]
            self._facts += [Fact(order.at_s, "ready", self._plan.stations[k].id) for k in waiting]
        else:
            fed = [k for k in stations if not self._drives[k - 1].running and not self._is_out(k - 1, order.at_s)]
            self._facts += [self._reading(order.at_s, k) for k in fed if not self._drives[k].running]

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
        if self._drives[down].running and not self._scenario.lacks(NoFailsafe, link.downstream):
            falls_s = float(self._drives[down].rng.uniform(*_FALLS_FOR_S)) if slack_s > 0.0 else 0.0
            self._trip(down, at_s + falls_s, link.id)
        if not self._stop_is_coming:
            self._call_crew(at_s)

    def _trip(self, k: int, at_s: float, link: str) -> None:
        station = self._plan.stations[k].id
        self._trips.append(Trip(station, at_s, link))
        self._facts.append(Fact(at_s, "film_trip", station, surprise=True))
        self._stop_one(k, at_s, surprise=True)
        self._stop_wired(k, at_s)

    def _call_crew(self, at_s: float) -> None:
        """Somebody goes to stop the chain: what was to come is dropped, but for what comes by itself."""
        self._stop_is_coming = True
        rng = self._chance.stream("stops", str(len(self._stops)))
        stop_s = at_s + self._scenario.crew.stops_after_s * float(rng.lognormal(0.0, _STOPS_SPREAD))
        if self._scenario.restart_after_s is None:
            self._orders = [each for each in self._orders if each[2].surprise]
            heapify(self._orders)
        self._order(Order(stop_s, "stop"))
        if self._scenario.restart_after_s is not None:
            start_s = stop_s + self._scenario.restart_after_s
            self._order(Order(start_s - INCH_ENDS_S, "rethread"))
            self._order_restart(start_s, stop_s)

    def _stop_when_out(self) -> tuple[float | None, ...]:
        """A motor whose gate the film has left: its failsafe stops it in a moment, or else somebody a little later.

        Motors that are wired to stop together are no longer so by then: whoever sees to the tails has seen to that.
        """
        outs_s = tuple(self._tail_out_s(k) for k in range(len(self._drives)))
        for k, out_s in enumerate(outs_s):
            station, rng = self._plan.stations[k].id, self._drives[k].rng
            if out_s is None or not self._drives[k].running:
                continue
            if self._scenario.lacks(NoFailsafe, station):
                self._stop_one(k, out_s + float(rng.uniform(*_CLEAR_AFTER_S)))
                continue
            at_s = out_s + float(rng.uniform(*_RUNS_OUT_AFTER_S))
            self._facts.append(Fact(at_s, "film_trip", station))
            self._stop_one(k, at_s)
        return outs_s

    def _stations(self, order: Order) -> Sequence[int]:
        return range(len(self._drives)) if order.stations is None else order.stations

    def _tail_out_s(self, k: int) -> float | None:
        return self._curves[k].time_at(self._end_s + self._ahead_s[k])

    def _is_out(self, k: int, at_s: float) -> bool:
        out_s = self._tail_out_s(k)
        return out_s is not None and out_s <= at_s

    def _redraw(self, k: int) -> None:
        self._curves[k] = self._drives[k].curve(self._until_s)
