"""Light on standing film in the drill: who shuts the douser and when, and what the truth counts."""

from math import inf

import pytest

from adapters.drill import Drill, Scenario, simulate
from adapters.drill.scenario import EXACT, ChainStop, Crew, MotorStop, NoFireDouser
from server.timeline.plan import Plan
from tests.adapters.rehearsing import Somebody
from tests.adapters.rehearsing import exact as quiet
from tests.adapters.shows import chain_plan

TAPS = ("contact", "tap", "tap", "tap")
SHUTS_S = 5.0
FIRE_DOUSER_S = 0.2
"""What the drill chose for a douser that shuts by itself."""


def exact(plan: Plan, *faults: object) -> Drill:
    crew = Crew(exact=True, shuts_after_s=SHUTS_S)
    return simulate(plan, Scenario("d", "", faults, nature=EXACT, crew=crew), 1)  # type: ignore[arg-type]


def burned_s(drill: Drill) -> dict[str, list[tuple[float, float]]]:
    """For each station, when film stood in the light and for how long."""
    spans = drill.truth.in_the_light
    return {station: [(span.from_s, span.until_s - span.from_s) for span in each] for station, each in spans.items()}


def test_a_fire_douser_takes_the_light_off_at_once() -> None:
    """Wherever film stops in the picture, by a fifth of a second."""
    burned = burned_s(exact(chain_plan(3), ChainStop(1500.0, 300.0)))
    assert burned == {f"s{k}": [pytest.approx((1500.0, FIRE_DOUSER_S))] for k in range(3)}


def test_without_a_fire_douser_film_is_in_the_light_until_somebody_shuts_it() -> None:
    """The crew's own figure, where a projector has none; the others have theirs."""
    burned = burned_s(exact(chain_plan(3), ChainStop(1500.0, 300.0), NoFireDouser("s1")))
    assert burned["s1"] == [pytest.approx((1500.0, SHUTS_S))]
    assert burned["s0"] == burned["s2"] == [pytest.approx((1500.0, FIRE_DOUSER_S))]


def test_each_house_burns_from_when_its_own_motor_stopped() -> None:
    """One motor stops by itself, the next are stopped by their failsafes, the rest by the crew."""
    drill = exact(chain_plan(4), MotorStop("s1", 1000.0), NoFireDouser())
    burned = burned_s(drill)
    stops_s = {station.id: drill.truth.course.spells[k][0].off_s for k, station in enumerate(drill.truth.plan.stations)}
    assert burned == {station: [pytest.approx((at_s, SHUTS_S))] for station, at_s in stops_s.items()}
    assert len(set(stops_s.values())) > 2


def test_film_that_runs_again_before_anybody_came_is_in_the_light_until_then() -> None:
    """Nobody shuts the douser of film that runs."""
    drill = exact(chain_plan(1), ChainStop(1500.0, 3.0), NoFireDouser())
    assert burned_s(drill) == {"s0": [pytest.approx((1500.0, 3.0))]}
    assert [span.until_s > 3000.0 for span in drill.truth.pictures[0].open] == [True]


def test_people_come_sooner_or_later() -> None:
    """By chance, and each house by its own; on average as long as the crew takes."""
    plan = chain_plan(9)
    crew = Crew(shuts_after_s=6.0)
    drills = [simulate(plan, Scenario("d", "", (ChainStop(1500.0), NoFireDouser()), crew=crew), n) for n in range(12)]
    times_s = [length_s for drill in drills for spans in burned_s(drill).values() for _, length_s in spans]
    assert len(set(times_s)) == len(times_s) > 90
    assert 5.0 < sorted(times_s)[len(times_s) // 2] < 7.2


def test_leader_burns_as_film_does_and_a_gate_without_film_does_not() -> None:
    """Whoever opens a douser on a lit lamp before the motors run burns the leader; after the tail there is none."""
    somebody = Somebody(chain_plan(1, minutes=10, inputs=TAPS), quiet())
    for at_s, kind in ((-60.0, "lamp_lit"), (-30.0, "douser_open"), (-10.0, "douser_shut")):
        somebody.wait(at_s)
        somebody.tap(kind, "s0")  # type: ignore[arg-type]
    somebody.wait(760.0)
    somebody.tap("douser_open", "s0")
    somebody.wait(800.0)
    assert somebody.rehearsal.truth.passes["s0"]["tail_end"] < 760.0
    assert somebody.rehearsal.truth.in_the_light["s0"] == ((-30.0, -10.0),)


def test_the_light_stays_on_the_persons_film_until_they_shut_the_douser_or_put_the_lamp_out() -> None:
    """Where no douser shuts by itself a stop asks for more than a stop."""
    plan = chain_plan(2, minutes=20, inputs=TAPS)
    somebody = Somebody(plan, quiet(NoFireDouser()))
    for station in ("s0", "s1"):
        somebody.tap("lamp_lit", station)
    somebody.wait(120.0)
    for station in ("s0", "s1"):
        somebody.tap("douser_open", station)
    somebody.wait(300.0)
    somebody.tap("chain_stop")
    somebody.wait(304.0)
    somebody.tap("douser_shut", "s0")
    somebody.wait(312.0)
    burning = somebody.rehearsal.truth.in_the_light["s1"]
    assert [(round(span.from_s), span.until_s) for span in burning] == [(300, inf)]
    somebody.tap("lamp_out", "s1")
    somebody.wait(400.0)
    burned = somebody.rehearsal.truth.in_the_light
    assert [[span.until_s for span in burned[station]] for station in ("s0", "s1")] == [[304.0], [312.0]]
    assert [(heat.station, round(heat.for_s)) for heat in somebody.review.heat] == [("s0", 4), ("s1", 12)]
