"""When to come to a drill, so that whoever rehearses does not wait for long before something goes wrong."""

from math import inf
from typing import Final

from adapters.drill.chance import Chance
from adapters.drill.scenario import HardLamp, Scenario
from adapters.drill.simulate import simulate
from adapters.drill.troubles import troubles_of
from adapters.drill.truth import Truth
from server.timeline.plan import Plan

FIRST_S: Final = -120.0
"""Nobody comes earlier: two minutes before the motors, for the first lamps. Chosen."""

ROUNDED_S: Final = 60.0
"""By how much earlier somebody may have come, as shows start at whole minutes."""

_SOONEST: Final = 0.3


def start_of(plan: Plan, scenario: Scenario, seed: int, within_s: float) -> float:
    """When to come to a rehearsal, in seconds after `motors_at`, so that trouble begins within `within_s` of that.

    That is so also for whoever comes up to ROUNDED_S earlier, so `within_s` is to be more than that. How soon it begins
    is left to chance. Where nothing goes wrong it is FIRST_S, as it is where trouble begins with the show.
    """
    truth = simulate(plan, scenario, seed).truth
    troubles = [trouble.began_s for trouble in troubles_of(truth, frozenset(), inf) if trouble.came]
    began_s = min((at_s for at_s in [*troubles, *_hard_strikes_s(truth)] if at_s is not None), default=FIRST_S)
    share = float(Chance(seed).stream("entry").uniform(_SOONEST, 1.0))
    return max(FIRST_S, began_s - share * (within_s - ROUNDED_S))


def _hard_strikes_s(truth: Truth) -> list[float]:
    """When lamps that need many strikes are first to be struck."""
    stations = {station.id: station for station in truth.plan.stations}
    windows_s = [
        (truth.pass_s(fault.station, "head"), stations[fault.station].lamp.earliest_s)
        for fault in truth.scenario.of(HardLamp)
    ]
    return [head_s - earliest_s for head_s, earliest_s in windows_s if head_s is not None]
