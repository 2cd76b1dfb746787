"""What is truly there before anything moves: paths, motors, reserves, and how long the film is."""

from math import inf

from adapters.drill.chance import Chance
from adapters.drill.motors import Motor, RateStep, wander
from adapters.drill.scenario import ChainStop, MotorStop, PrintOff, RateFault, Scenario, TailOff, TripAt
from server.timeline.plan import Plan

# Chosen.
_SPARE_S = 900.0


def true_ahead_s(plan: Plan, scenario: Scenario, chance: Chance) -> tuple[float, ...]:
    """The film between the first gate and each gate, by the true paths."""
    ahead_s = [0.0]
    for link in plan.links:
        share = plan.timing.path_tolerance_percent / 100.0 * scenario.nature.path
        error = share * float(chance.stream("path", link.id).standard_normal())
        ahead_s.append(ahead_s[-1] + link.transit_s * (1.0 + error))
    return tuple(ahead_s)


def print_shifts_s(plan: Plan, scenario: Scenario) -> tuple[tuple[float, float], ...]:
    """From where on the film lies further from its first frame than planned, and by how much, one for each cause."""
    return tuple((plan.mark(fault.mark).x_s, fault.by_s) for fault in scenario.of(PrintOff))


def film_end_s(plan: Plan, scenario: Scenario, chance: Chance) -> float:
    """The film from the leader's first frame to its true end, which is never before the last picture."""
    last_s = plan.print_s + sum(by_s for _, by_s in print_shifts_s(plan, scenario))
    if plan.tail_s <= 0.0:
        return last_s
    by_nature_s = plan.timing.tail_sigma_s * scenario.nature.tail * float(chance.stream("tail").standard_normal())
    off_s = by_nature_s + sum(fault.by_s for fault in scenario.of(TailOff))
    return last_s + max(-plan.tail_s, off_s)


def true_motors(plan: Plan, scenario: Scenario, chance: Chance, until_s: float) -> list[Motor]:
    """Every station's motor, with all by which it errs until then."""
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


def trip_reserves_s(plan: Plan, scenario: Scenario) -> list[float]:
    """The slack at which each link's failsafe trips."""
    other = {fault.link: fault.slack_s for fault in scenario.of(TripAt)}
    return [other.get(link.id, link.reserve_s) for link in plan.links]


def horizon_s(plan: Plan, scenario: Scenario, end_s: float) -> float:
    """Later than everything that can happen to the film, which ends at `end_s`."""
    pauses: tuple[ChainStop | MotorStop, ...] = (*scenario.of(ChainStop), *scenario.of(MotorStop))
    stands_s = [pause.for_s or 0.0 for pause in pauses]
    slowest = 1.0 - 1e-6 * sum(abs(fault.ppm) for fault in scenario.of(RateFault) if abs(fault.ppm) < 1e5)
    film_s = (max(end_s, plan.print_s) + plan.ahead_s[-1] * 1.1) / max(0.5, slowest - 0.02)
    offsets_s = max(station.start_offset_s for station in plan.stations)
    return scenario.late_s + offsets_s + film_s + sum(stands_s) + (scenario.restart_after_s or 0.0) + _SPARE_S
