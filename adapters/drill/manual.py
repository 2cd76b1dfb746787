"""The chain in motion under somebody's hands: what is done at the desks moves its motors, its film and its start."""

from collections.abc import Sequence
from heapq import heapify
from math import inf
from typing import Final, Literal, NamedTuple, TypeAlias

from adapters.drill.chain import INCH_ENDS_S, Chain
from adapters.drill.chance import Chance
from adapters.drill.course import Order, OrderAct
from adapters.drill.duties import Duties
from adapters.drill.scenario import LateMotor, Scenario

MotorAct: TypeAlias = Literal["chain_start", "chain_stop", "motor_start", "motor_stop", "relaced", "hold"]

# Chosen: somebody has to be found, and to go from house to house.
RETHREAD_AFTER_S: Final = 90.0
_CALL_AFTER_S: Final = 8.0

_ORDERS: Final[dict[MotorAct, OrderAct]] = {
    "chain_start": "start",
    "motor_start": "start",
    "chain_stop": "stop",
    "motor_stop": "stop",
    "relaced": "relace",
    "hold": "hold",
}


class Act(NamedTuple):
    """Something done to motors or film at `at_s`; `station` is its number in film order, None for the whole chain.

    `seconds`: to how much slack the link that feeds the station was laced anew, or how long after `motors_at` the chain
    is to start.
    """

    at_s: float
    kind: MotorAct
    station: int | None = None
    seconds: float = 0.0


class ManualChain(Chain):
    """A chain with what was done to it so far.

    Equal acts give an equal course. One more act leaves all that was before it as it was, but for the chance by which
    motors that are started or stopped together differ. Where stopping is the person's, nobody else stops the film. Once
    a reserve was spent and the chain stands (`awaits_helpers_s`), helpers take up what hangs loose RETHREAD_AFTER_S
    later and call (`rethreaded_s`), unless it was started again before. A hold moves a start that the crew has still to
    make, and no other. `started_s` is when the first motor was started, inf where none was.
    """

    def __init__(self, duties: Duties, scenario: Scenario, chance: Chance, acts: Sequence[Act], now_s: float) -> None:
        held_s = [act.seconds for act in acts if act.kind == "hold"]
        super().__init__(duties.plan, scenario, chance, stands_s=max([0.0, now_s, *held_s]))
        self._duties = duties
        self._acts = acts
        self._taken_up = 0
        self.started_s = inf
        self.awaits_helpers_s: list[float] = []
        self.rethreaded_s: list[float] = []

    def _first_orders(self) -> None:
        acts = list(self._acts)
        first = next((act for act in acts if act.kind == "chain_start"), None)
        crew_s = inf if self._duties.motors else self._held_s()
        if first is not None and first.at_s < crew_s:
            acts.remove(first)
            crew_s = first.at_s
        if crew_s < inf:
            self._order_first_start(crew_s)
        self._order_pauses()
        self._order_acts(acts)

    def _held_s(self) -> float:
        """When the crew starts the chain for the first time: as planned, or as was last said before that."""
        start_s = self._scenario.late_s
        for act in self._acts:
            if act.kind == "hold" and act.at_s < start_s:
                start_s = max(act.at_s, self._scenario.late_s + act.seconds)
        return start_s

    def _order_acts(self, acts: Sequence[Act]) -> None:
        for act in acts:
            stations = None if act.station is None else (act.station,)
            self._order(Order(act.at_s, _ORDERS[act.kind], stations, act.seconds))

    def _say(self, order: Order) -> None:
        """What somebody at the desks says of a restart is heard by whoever was to make it."""
        if order.act == "hold" and self._is_persons(order):
            self._move_restart(order)
        else:
            super()._say(order)

    def _move_restart(self, order: Order) -> None:
        if not self._rolled() or self._running():
            return
        orders = [each for _, _, each in self._orders]
        threaded_s = [each.at_s + INCH_ENDS_S for each in orders if each.act == "rethread"]
        start_s = max([order.at_s, order.seconds, *threaded_s])
        moved = [self._moved(each, start_s) for each in orders]
        self._orders = [(each.at_s, number, each) for (_, number, _), each in zip(self._orders, moved, strict=True)]
        heapify(self._orders)

    def _moved(self, order: Order, start_s: float) -> Order:
        """One order of the crew's, where its restart is to be at `start_s`."""
        if self._is_persons(order):
            return order
        if order.act == "hold":
            return order._replace(seconds=start_s)
        return order._replace(at_s=start_s) if order.act == "start" and order.stations is None else order

    def _start(self, order: Order) -> None:
        """As ever, but that a motor which is late or stuck is not helped by another push of the button."""
        if self._is_persons(order) and self._rolled() and not self._stops:
            stuck = {self._plan.station_index[fault.station] for fault in self._scenario.of(LateMotor)}
            pushed = tuple(k for k in self._stations(order) if k not in stuck)
            order = order._replace(stations=pushed) if stuck else order
        self.started_s = min(self.started_s, order.at_s)
        super()._start(order)

    def _stop(self, order: Order) -> None:
        super()._stop(order)
        if self._duties.stops and len(self._spent) > self._taken_up and not self._running():
            self.awaits_helpers_s.append(order.at_s)
            self._order(Order(order.at_s + RETHREAD_AFTER_S, "rethread", None))

    def _rethread(self, at_s: float) -> None:
        if not self._running():
            super()._rethread(at_s)
            self._taken_up = len(self._spent)
            if self._duties.stops:
                self.rethreaded_s.append(at_s + _CALL_AFTER_S)

    def _call_crew(self, at_s: float) -> None:
        if self._duties.stops:
            return
        super()._call_crew(at_s)
        if self._scenario.restart_after_s is None:
            # The crew drops all that was to come; what somebody did at the desks was still done.
            self._order_acts([act for act in self._acts if act.at_s > at_s])

    def _rolled(self) -> bool:
        return any(drive.spells for drive in self._drives)

    def _running(self) -> bool:
        return any(drive.running for drive in self._drives)

    def _is_persons(self, order: Order) -> bool:
        return (order.at_s, order.act) in {(act.at_s, _ORDERS[act.kind]) for act in self._acts}
