"""Stops in the drill and what follows: motors wired together, a crew that comes late, words before a restart."""

import numpy as np
import pytest

from adapters.drill import Drill, Scenario, simulate
from adapters.drill.scenario import EXACT, ChainStop, Crew, LateMotor, MotorStop, RateFault
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan

SPREAD_S = 0.1
"""A plan's default `start_spread_s`."""


def grouped(stations: int, *groups: tuple[str, ...]) -> Plan:
    """A chain whose motors are wired to stop together."""
    plan = chain_plan(stations)
    return Plan.model_validate({name: getattr(plan, name) for name in Plan.model_fields} | {"stop_groups": groups})


def exact(plan: Plan, *faults: object, **rest: object) -> Drill:
    return simulate(plan, Scenario("d", "", faults, nature=EXACT, crew=Crew(exact=True), **rest), 1)  # type: ignore[arg-type]


def stops_s(drill: Drill) -> dict[str, float]:
    """When each motor first stopped."""
    facts = [fact for fact in drill.truth.facts if fact.kind == "motor_stop"]
    return {fact.station or "": fact.at_s for fact in reversed(facts)}


def said(drill: Drill, *kinds: str) -> list[tuple[str, str | None]]:
    return [(event.kind, event.station) for event in drill.events if event.kind in kinds]


def test_one_motor_of_a_wired_group_takes_the_others_along() -> None:
    """Within the spread of starts; a motor that is in none runs on until its film or the crew stops it."""
    plan = grouped(5, ("s0", "s1", "s2"))
    stopped_s = stops_s(simulate(plan, Scenario("d", "", (MotorStop("s1", 1000.0),)), 3))
    assert all(0.0 <= stopped_s[station] - 1000.0 < 5 * SPREAD_S for station in ("s0", "s1", "s2"))
    assert min(stopped_s["s3"], stopped_s["s4"]) > 1001.0


def test_contacts_tell_of_every_motor_of_a_group() -> None:
    """Each has its own wire."""
    drill = exact(grouped(4, ("s1", "s2")), MotorStop("s2", 1000.0))
    first = [(event.station, event.source) for event in drill.events if event.kind == "motor_stop"][:2]
    assert set(first) == {("s1", "contact:north"), ("s2", "contact:north")}


def test_a_failsafe_takes_its_group_along() -> None:
    """One motor runs off until the next is tripped, and what is wired to that stops with it."""
    drill = exact(grouped(4, ("s2", "s3")), RateFault("s1", 0.0, -1000.0))
    (trip,) = [trip for trip in drill.truth.trips if trip.station == "s2"]
    assert stops_s(drill)["s3"] == trip.at_s


def test_a_film_that_runs_out_takes_no_group_along() -> None:
    """Its end is at the first gate minutes before it is at the last, and the picture goes on there."""
    plan = grouped(3, ("s0", "s1", "s2"))
    drill = exact(plan)
    outs_s = [drill.truth.passes[station.id]["tail_end"] for station in plan.stations]
    assert [stops_s(drill)[station.id] - out_s for station, out_s in zip(plan.stations, outs_s, strict=True)] == (
        pytest.approx([0.3] * 3, abs=0.2)
    )


@pytest.mark.parametrize("stops_after_s", [6.0, 25.0])
def test_after_one_motor_stops_somebody_stops_the_rest(stops_after_s: float) -> None:
    """A quick crew or a slow one: their own figure, by chance, from when that motor stopped."""
    plan = chain_plan(3)
    crew = Crew(stops_after_s=stops_after_s)
    after_s = [
        simulate(plan, Scenario("d", "", (MotorStop("s2", 1000.0),), crew=crew), seed).truth.course.chain_stops[0][0]
        - 1000.0
        for seed in range(60)
    ]
    assert np.median(after_s) == pytest.approx(stops_after_s, rel=4 * 0.35 * 1.25 / 60**0.5)


def test_a_motor_that_is_started_again_at_once_brings_nobody() -> None:
    """Whoever was about to start it again did so before the film was gone."""
    drill = exact(chain_plan(3), MotorStop("s1", 1000.0, 1.0))
    assert drill.truth.course.chain_stops == ()
    assert drill.truth.trips == ()


def test_before_a_restart_every_link_and_every_house_is_told_of() -> None:
    """After a stop of the chain links are read, the start is said, and each house is ready; then it starts."""
    drill = exact(chain_plan(3), ChainStop(1500.0, 200.0))
    last_words = said(drill, "slack_read", "hold", "ready", "motor_start")
    assert sorted(last_words[3:5]) == [("slack_read", "s1"), ("slack_read", "s2")]
    assert last_words[5] == ("hold", None)
    assert sorted(last_words[6:9]) == [("ready", f"s{k}") for k in range(3)]
    assert {kind for kind, _ in last_words[9:]} == {"motor_start"}
    (hold,) = [event for event in drill.events if event.kind == "hold"]
    assert hold.seconds == pytest.approx(1700.0)


def test_film_that_was_taken_up_was_laced_anew_and_the_rest_is_read() -> None:
    """Both links of the motor that stuck; the others hold what they held."""
    drill = exact(chain_plan(6), LateMotor("s2"), restart_after_s=200.0)
    told = {station: kind for kind, station in said(drill, "slack_read", "relaced")}
    assert (told["s1"], told["s2"], told["s3"]) == ("slack_read", "relaced", "relaced")
    slacks_s = [event.seconds for event in drill.events if event.kind in {"slack_read", "relaced"}]
    assert len(slacks_s) == 5
    assert all(abs(slack_s or 0.0) < 0.3 for slack_s in slacks_s)


def test_a_stop_that_is_over_at_once_leaves_no_time_for_words() -> None:
    """Nobody reads a link before the chain has stopped."""
    drill = exact(chain_plan(3), ChainStop(1500.0, 5.0))
    assert said(drill, "slack_read", "hold") == []
    after_s = [(event.t - drill.truth.plan.zero).total_seconds() for event in drill.events if event.kind == "ready"]
    assert all(at_s > 1500.0 for at_s in after_s)


def test_a_show_that_is_not_started_again_is_ready_for_nothing() -> None:
    """Nobody says that a house is ready where the film stays."""
    assert said(exact(chain_plan(3), MotorStop("s1", 1000.0)), "ready", "hold", "relaced") == []


def test_a_chain_that_its_failsafes_have_stopped_is_known_to_stand() -> None:
    """The first of three motors stops, and both others trip before anybody comes: the crew's clock stands too."""
    plan = chain_plan(3)
    crew = Crew(exact=True, stops_after_s=20.0)
    scenario = Scenario("d", "", (MotorStop("s0", 1000.0),), nature=EXACT, crew=crew, restart_after_s=200.0)
    drill = simulate(plan, scenario, 1)
    ((stopped_s, started_s),) = drill.truth.course.chain_stops
    assert [fact.kind for fact in drill.truth.facts if fact.kind == "chain_stop"] == []
    assert max(stops_s(drill).values()) < stopped_s
    assert started_s == pytest.approx(stopped_s + 200.0)
