"""The show that the demonstration plays: one lamp struck late, one link that runs tight, all else quiet.

Seen at twenty times life it takes six and a half minutes; what goes wrong is placed so that the first of them shows it.
"""

from math import floor

from adapters.drill.scenario import Crew, LateStrike, Nature, RateFault, Scenario, TripAt
from adapters.drill.simulate import simulate
from server.timeline.events import Event
from server.timeline.plan import Plan, Station

# All chosen. The last motor alone runs fast, so only the link that feeds it goes tight: half of its reserve is spent
# after half an hour, nine tenths after an hour. Then the crew trims the motor, as much slow as it was fast, until a
# quarter is left; no chance of the start spends all of it before. That link's failsafe is set wide all the same.
_FAULT_AT_S = 0.0
_GONE_IN_S = 4000.0
_TRIMMED_AT = 0.95
_BACK_IN_S = 2800.0
_FAILSAFE_AT = 1.5
_LATE_S = 100.0
_QUIET = Nature(rate=0.2, walk=0.3, start=0.3, tail=0.3)
_CREW = Crew(missed=0.0, strike_fails=0.0, reads_every_s=240.0, read_sd_s=0.1)


def demo_scenario(plan: Plan) -> Scenario:
    """The demonstration for a plan of at least two stations."""
    late = LateStrike(_station_to_strike_late(plan).id, _LATE_S)
    return Scenario(
        "demo",
        "One lamp is struck late, and one link runs tight until the crew trims its motor.",
        (late, *_tight_last_link(plan)),
        nature=_QUIET,
        crew=_CREW,
    )


def demo_events(plan: Plan, seed: int) -> list[Event]:
    """The events of the demonstration, by the time each was written down."""
    return simulate(plan, demo_scenario(plan), seed).events


def _station_to_strike_late(plan: Plan) -> Station:
    """A station near the middle of the chain whose lamp is on a contact."""
    middle = floor(len(plan.stations) / 2)
    by_distance = sorted(range(len(plan.stations)), key=lambda k: abs(k - middle))
    on_contact = [k for k in by_distance if plan.stations[k].inputs.lamp == "contact"]
    return plan.stations[(on_contact or by_distance)[0]]


def _tight_last_link(plan: Plan) -> tuple[RateFault | TripAt, ...]:
    link = plan.links[-1]
    ppm = link.reserve_s / _GONE_IN_S * 1e6
    trimmed_s = _FAULT_AT_S + _TRIMMED_AT * _GONE_IN_S
    return (
        TripAt(link.id, _FAILSAFE_AT * link.reserve_s),
        RateFault(link.downstream, _FAULT_AT_S, ppm, trimmed_s),
        RateFault(link.downstream, trimmed_s, -ppm, trimmed_s + _BACK_IN_S),
    )
