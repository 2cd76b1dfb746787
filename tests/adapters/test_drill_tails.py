"""The film's end in the drill: the tail is as long as it truly is, and what stops a motor that has run out."""

import numpy as np
import pytest

from adapters.drill import Drill, Scenario, simulate
from adapters.drill.scenario import EXACT, Crew, FoilMissing, MotorStop, Nature, NoFailsafe, PrintOff, TailOff
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan

TAIL_S = 100.0
"""150 counter feet of 16 frames at 24 frames a second."""


def exact(plan: Plan, *faults: object) -> Drill:
    return simulate(plan, Scenario("d", "", faults, nature=EXACT, crew=Crew(exact=True)), 1)  # type: ignore[arg-type]


def facts_s(drill: Drill, kind: str, station: str) -> list[float]:
    return [fact.at_s for fact in drill.truth.facts if (fact.kind, fact.station) == (kind, station)]


def tail_s(drill: Drill, station: str) -> float:
    passes = drill.truth.passes[station]
    return passes["tail_end"] - passes["end"]


def test_the_tail_is_off_by_as_much_as_the_plan_allows() -> None:
    """model.md: one standard deviation is `tail_sigma_s`, 3 s by default; within four standard errors of 200 shows."""
    plan = chain_plan(1, minutes=10)
    only_tail = Nature(rate=0.0, line=0.0, walk=0.0, path=0.0, start=0.0, runup=0.0)
    off_s = [tail_s(simulate(plan, Scenario("d", "", nature=only_tail), seed), "s0") - TAIL_S for seed in range(200)]
    assert np.std(off_s) == pytest.approx(3.0, rel=4 / (2 * 200) ** 0.5)
    assert abs(np.mean(off_s)) < 4 * 3.0 / 200**0.5


def test_all_houses_have_the_same_tail() -> None:
    """It is one film: without errors of motors its end goes by every gate equally late."""
    plan = chain_plan(4, minutes=10)
    only_tail = Nature(rate=0.0, line=0.0, walk=0.0, path=0.0, start=0.0, runup=0.0)
    drill = simulate(plan, Scenario("d", "", nature=only_tail), 2)
    tails_s = [tail_s(drill, station.id) for station in plan.stations]
    assert tails_s == pytest.approx([tails_s[0]] * 4, abs=1e-6)
    assert abs(tails_s[0] - TAIL_S) > 0.1


@pytest.mark.parametrize(("by_s", "left_s"), [(-60.0, 40.0), (45.0, 145.0), (-300.0, 0.0)])
def test_a_tail_that_is_grossly_off_is_so_by_as_much(by_s: float, left_s: float) -> None:
    """A tail cannot be shorter than nothing: the last picture is still there."""
    drill = exact(chain_plan(2, minutes=10), TailOff(by_s))
    assert tail_s(drill, "s1") == pytest.approx(left_s, abs=1e-6)


def test_a_plan_without_a_tail_has_none_that_is_off() -> None:
    """The film's end is the last picture, whatever nature does."""
    plan = chain_plan(2, minutes=10)
    bare = Plan.model_validate({name: getattr(plan, name) for name in Plan.model_fields} | {"print": plan.print[:-1]})
    drill = simulate(bare, Scenario("d", "", (TailOff(30.0),)), 3)
    assert drill.truth.course.film_end_s == bare.print_s
    assert tail_s(drill, "s1") == 0.0


@pytest.mark.parametrize("seed", range(5))
def test_a_failsafe_finds_no_film_a_moment_after_the_end_and_the_motor_stops_with_it(seed: int) -> None:
    """At every station, within a second; and it is not counted among the trips that a link's film brought."""
    drill = simulate(chain_plan(3, minutes=10), Scenario("d", ""), seed)
    for station, passes in drill.truth.passes.items():
        (tripped_s,), (stopped_s,) = facts_s(drill, "film_trip", station), facts_s(drill, "motor_stop", station)
        assert 0.0 < tripped_s - passes["tail_end"] < 1.0
        assert stopped_s == tripped_s
    assert drill.truth.trips == ()


def test_without_a_failsafe_a_motor_that_has_run_out_is_stopped_by_hand() -> None:
    """Five to twenty seconds later; the others have theirs."""
    drill = simulate(chain_plan(3, minutes=10), Scenario("d", "", (NoFailsafe("s1"),)), 4)
    assert facts_s(drill, "film_trip", "s1") == []
    assert 5.0 <= facts_s(drill, "motor_stop", "s1")[0] - drill.truth.passes["s1"]["tail_end"] <= 20.0
    assert len(facts_s(drill, "film_trip", "s2")) == 1


def test_without_a_failsafe_taut_film_stops_no_motor() -> None:
    """The reserve is spent all the same, and somebody stops the chain."""
    drill = exact(chain_plan(4), MotorStop("s1", 1000.0), NoFailsafe())
    assert drill.truth.trips == ()
    assert drill.truth.gone_s["s1>s2"] == pytest.approx(1002.0, abs=1e-6)
    ((stopped_s, _),) = drill.truth.course.chain_stops
    assert facts_s(drill, "motor_stop", "s2") == [stopped_s]


def test_a_missing_foil_is_seen_by_no_detector_and_by_everybody_who_looks() -> None:
    """Its cue is told of at no station on a contact, and tapped at those where people tap."""
    scenario = Scenario("d", "", (FoilMissing("r2"),), crew=Crew(missed=0.0))
    for inputs, seen in (("contact",) * 4, 0), (("contact", "contact", "contact", "tap"), 3):
        drill = simulate(chain_plan(3, inputs=inputs), scenario, 5)
        marks = [event.mark for event in drill.events if event.kind == "mark_pass"]
        assert (marks.count("r2"), marks.count("r3")) == (seen, 3)
        assert {passes["r2"] for passes in drill.truth.passes.values()}


def test_a_print_that_is_not_as_planned_is_off_alike_at_every_gate() -> None:
    """From the mark on every pass, and the film's end, comes that much later; what lies before it comes as planned."""
    plan = chain_plan(3, minutes=20)
    plain, off = exact(plan), exact(plan, PrintOff("r1", 0.75))
    for station in plan.stations:
        before, after = plain.truth.passes[station.id], off.truth.passes[station.id]
        late_s = {mark: after[mark] - before[mark] for mark in ("head", "r1", "end", "tail_end")}
        assert late_s == pytest.approx({"head": 0.0, "r1": 0.75, "end": 0.75, "tail_end": 0.75}, abs=1e-6)
