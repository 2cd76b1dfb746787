"""Coming to a show that has begun: a full crew saw to it until then, and trouble is not far."""

import pytest

from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.entry import FIRST_S, ROUNDED_S, start_of
from adapters.drill.scenario import FoilMissing, HardLamp, LampOut, MotorStop, TailOff, WrongTap
from adapters.drill.simulate import simulate
from adapters.drill.troubles import troubles_of
from server.timeline.plan import Plan
from tests.adapters.rehearsing import Somebody, exact
from tests.adapters.shows import chain_plan, larkspur

COMES_S = 1500.0
HANDS = ("tap", "tap", "tap", "tap")


def began_s(plan: Plan, name: str, seed: int) -> float | None:
    """When the trouble of a drill begins, by what is said of it afterwards."""
    truth = simulate(plan, scenario_for(name, plan, seed), seed).truth
    times_s = [trouble.began_s for trouble in troubles_of(truth, frozenset(), 1e9) if trouble.came]
    return min((at_s for at_s in times_s if at_s is not None), default=None)


@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("minutes", [2.0, 5.0, 30.0])
def test_nobody_waits_longer_for_trouble_than_they_asked(name: str, minutes: float) -> None:
    """Also if they come the minute earlier by which shows are rounded; and nobody comes before the first lamps."""
    plan = larkspur()
    for seed in range(2):
        start_s = start_of(plan, scenario_for(name, plan, seed), seed, minutes * 60.0)
        trouble_s = began_s(plan, name, seed)
        assert start_s >= FIRST_S
        if trouble_s is None:
            assert start_s == FIRST_S or name == "hard_lamp"
        elif start_s > FIRST_S:
            assert start_s - ROUNDED_S < start_s < trouble_s <= start_s - ROUNDED_S + minutes * 60.0
        else:
            assert trouble_s - FIRST_S <= minutes * 60.0


def test_how_soon_trouble_comes_is_left_to_chance() -> None:
    """Nobody can count on it by the clock, and the same drill is the same again."""
    plan, scenario = larkspur(), exact(MotorStop("h5", 3000.0))
    waits_s = [3000.0 - start_of(plan, scenario, seed, 300.0) for seed in range(30)]
    assert waits_s == [3000.0 - start_of(plan, scenario, seed, 300.0) for seed in range(30)]
    assert min(waits_s) < 120.0
    assert 200.0 < max(waits_s) <= 240.0


@pytest.mark.parametrize(
    ("fault", "began"),
    [
        (TailOff(-60.0), 3680.0),
        (TailOff(60.0), 3740.0),
        (FoilMissing("r2"), 1240.0),
        (WrongTap("s0", "r3", missed=True), 1840.0),
        (HardLamp("s0", 5), -50.0),
    ],
)
def test_the_print_and_its_lamps_are_in_trouble_from_when_it_shows(fault: object, began: float) -> None:
    """40 s of leader, six reels of ten minutes, 100 s of tail: one too short is out early, one too long not in time."""
    assert 18.0 <= began - start_of(chain_plan(2), exact(fault), 1, 120.0) <= 60.0


def test_whoever_comes_to_a_show_finds_all_that_was_seen_of_it() -> None:
    """What the same drill with a full crew has until then, taps and all; and nothing of what is to come."""
    plan = larkspur()
    late = Somebody(plan, scenario_for("motor_lost", plan, 5), seed=5, start_s=COMES_S)
    whole = Somebody(plan, scenario_for("motor_lost", plan, 5), "all", seed=5)
    whole.wait(COMES_S)
    late_s, whole_s = (
        sorted((e.t, e.kind, str(e.station), str(e.mark)) for e in each.events if e.kind != "feed_up")
        for each in (late, whole)
    )
    assert late_s == whole_s
    assert {"mark_pass", "lamp_lit", "motor_start"} <= {event.kind for event in late.events}
    assert late.called == []


def test_from_then_on_what_is_theirs_is_theirs() -> None:
    """Passes are called out and not tapped, the film is not stopped, and lamps burn as they were left."""
    plan = chain_plan(3, inputs=("contact", "tap", "tap", "tap"))
    somebody = Somebody(plan, exact(MotorStop("s1", 1600.0)), start_s=COMES_S)
    before = len(somebody.seen("mark_pass"))
    somebody.wait(1640.0)
    assert before > 0
    assert len(somebody.seen("mark_pass")) == before
    assert somebody.rehearsal.truth.course.chain_stops == ()
    assert [picture.lit[-1].until_s > 1e9 for picture in somebody.rehearsal.truth.pictures] == [True] * 3
    somebody.tap("chain_stop")
    somebody.wait(1700.0)
    assert somebody.rehearsal.running == []


def test_a_show_whose_motors_are_the_persons_has_been_started_all_the_same() -> None:
    """By whoever was there before."""
    somebody = Somebody(chain_plan(2, inputs=HANDS), exact(LampOut("s1", 1600.0)), start_s=COMES_S)
    assert somebody.rehearsal.running == ["s0", "s1"]
    assert somebody.seen("chain_start") == pytest.approx([0.25])
    somebody.wait(1700.0)
    assert somebody.called == ["House 1: the lamp has gone out"]


def test_what_was_before_they_came_is_not_held_against_them() -> None:
    """No lamp, no pass and no dark house of before; what goes dark from then on is theirs, and no pass is asked for."""
    plan = chain_plan(2, inputs=HANDS)
    somebody = Somebody(plan, exact(LampOut("s1", 1600.0)), start_s=COMES_S)
    somebody.wait(1950.0)
    review = somebody.review
    assert review.strikes == ()
    assert review.taps == ()
    assert [(dark.station, round(dark.dark_s)) for dark in review.dark] == [("s0", 0), ("s1", 350)]
    assert all(link.worst_s >= COMES_S for link in review.links)
