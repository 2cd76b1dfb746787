"""What somebody says in a rehearsal, rather than does: film laced anew, a start that is moved, who is ready."""

import pytest

from adapters.drill.review_words import review_in_words
from adapters.drill.scenario import ChainStop, MotorStop
from server.timeline.plan import Plan
from tests.adapters.rehearsing import Somebody, exact
from tests.adapters.shows import chain_plan

BY_HAND = ("tap", "contact", "contact", "contact")


def slack_s(somebody: Somebody, link: str) -> float:
    """What a link truly holds now."""
    truth, k = somebody.rehearsal.truth, [link.id for link in somebody.plan.links].index(link)
    up, down = truth.course.curves[k : k + 2]
    return up.count_at(somebody.rehearsal.at_s) - down.count_at(somebody.rehearsal.at_s)


def stopped(plan: Plan, stuck: str) -> Somebody:
    """A chain of which one motor stopped at 300 s, and which somebody stopped at 310."""
    somebody = Somebody(plan, exact(MotorStop(stuck, 300.0)))
    somebody.wait(310.0)
    somebody.tap("chain_stop")
    somebody.wait(320.0)
    return somebody


@pytest.mark.parametrize(("stuck", "seconds"), [("s1", None), ("s1", 0.4), ("s2", 0.0), ("s0", -0.5)])
def test_film_that_is_said_to_be_laced_anew_is_so(stuck: str, seconds: float | None) -> None:
    """Loose or tight before: the link then holds what was said, nothing by default, and no other has moved."""
    plan = chain_plan(4)
    somebody = stopped(plan, stuck)
    before_s = {link.id: slack_s(somebody, link.id) for link in plan.links}
    moved = max(before_s, key=lambda link: abs(before_s[link]))
    somebody.tap("relaced", moved.partition(">")[2], seconds=seconds)
    somebody.wait(325.0)
    after_s = {link.id: slack_s(somebody, link.id) for link in plan.links}
    assert abs(before_s[moved]) > 1.9
    assert after_s == pytest.approx(before_s | {moved: seconds or 0.0}, abs=1e-6)
    assert [done.changed for done in somebody.review.done] == [True, True]


def test_film_that_runs_is_laced_by_nobody() -> None:
    """Saying so changes nothing, and is marked so."""
    somebody = Somebody(chain_plan(3), exact())
    somebody.wait(300.0)
    somebody.tap("relaced", "s1", seconds=1.0)
    somebody.wait(320.0)
    assert slack_s(somebody, "s0>s1") == pytest.approx(0.0, abs=1e-6)
    assert [done.changed for done in somebody.review.done] == [False]


def test_whoever_laces_all_links_anew_need_not_wait_for_helpers() -> None:
    """The chain is started before they have called, and goes on to its end with its film where it should be."""
    plan = chain_plan(3, minutes=20)
    somebody = stopped(plan, "s1")
    for station in ("s1", "s2"):
        somebody.tap("relaced", station)
    somebody.wait(340.0)
    somebody.tap("chain_start")
    somebody.wait(6000.0)
    assert somebody.rehearsal.end == "out"
    assert len(somebody.rehearsal.truth.spent) == 2  # both links of the motor that stopped, before


def test_a_link_laced_past_its_reserve_is_armed_for_nothing() -> None:
    """The projector does not trip as its motor starts: it stands there, past it, from before."""
    somebody = stopped(chain_plan(3, minutes=20), "s1")
    trips = somebody.rehearsal.truth.trips
    somebody.tap("relaced", "s1", seconds=3.0)
    somebody.wait(330.0)
    somebody.tap("chain_start")
    somebody.wait(331.0)
    assert somebody.rehearsal.truth.trips == trips
    assert slack_s(somebody, "s0>s1") == pytest.approx(3.0, abs=1e-6)


@pytest.mark.parametrize(("holds", "starts_s"), [((120.0,), 120.0), ((120.0, 60.0), 60.0), ((-300.0,), -20.0)])
def test_the_simulated_start_follows_a_hold(holds: tuple[float, ...], starts_s: float) -> None:
    """The latest stands; nobody starts before it was said."""
    somebody = Somebody(chain_plan(2), exact())
    for n, seconds in enumerate(holds):
        somebody.wait(-20.0 + n)
        somebody.tap("hold", seconds=seconds)
    somebody.wait(200.0)
    assert somebody.seen("motor_start") == pytest.approx([starts_s] * 2, abs=0.05)
    assert all(at_s >= starts_s - 60.0 for at_s in somebody.seen("lamp_lit") if at_s > -19.0)


def test_a_hold_moves_no_motor_that_runs() -> None:
    """It comes too late."""
    told, quiet = Somebody(chain_plan(2), exact()), Somebody(chain_plan(2), exact())
    told.wait(10.0)
    told.tap("hold", seconds=300.0)
    for somebody in (told, quiet):
        somebody.wait(1000.0)
    assert told.events == quiet.events
    assert [done.changed for done in told.review.done] == [False]


def test_after_the_persons_own_stop_a_hold_starts_nothing() -> None:
    """It says when, and whoever says it starts the chain."""
    somebody = Somebody(chain_plan(2), exact())
    somebody.wait(300.0)
    somebody.tap("chain_stop")
    somebody.wait(310.0)
    somebody.tap("hold", seconds=400.0)
    somebody.wait(1000.0)
    assert somebody.rehearsal.running == []
    somebody.tap("chain_start")
    somebody.wait(1010.0)
    assert somebody.rehearsal.running == ["s0", "s1"]


@pytest.mark.parametrize(("seconds", "starts_s"), [(900.0, 900.0), (500.0, 500.0), (100.0, 450.0)])
def test_a_restart_that_the_crew_was_to_make_follows_a_hold(seconds: float, starts_s: float) -> None:
    """Later or sooner; what was said for the past is now. The crew's own word of it says the same."""
    somebody = Somebody(chain_plan(2), exact(ChainStop(400.0, 200.0)))
    somebody.wait(450.0)
    somebody.tap("hold", seconds=seconds)
    somebody.wait(1000.0)
    assert somebody.seen("motor_start")[2:] == pytest.approx([starts_s] * 2, abs=0.05)
    holds = [event.seconds for event in somebody.events if event.kind == "hold"]
    assert holds == ([900.0] if seconds == 900.0 else [])


def test_a_hold_of_a_start_that_is_the_persons_leaves_it_to_them() -> None:
    """Motors that are told of by taps are started by whoever taps."""
    somebody = Somebody(chain_plan(2, inputs=BY_HAND), exact())
    somebody.tap("hold", seconds=60.0)
    somebody.wait(300.0)
    assert somebody.rehearsal.running == []
    assert [done.changed for done in somebody.review.done] == [True]


def test_a_house_that_is_said_to_be_ready_is_written_down() -> None:
    """It moves nothing; of a motor that runs it means nothing."""
    somebody = Somebody(chain_plan(2), exact())
    somebody.tap("ready", "s1")
    somebody.wait(100.0)
    somebody.tap("ready", "s0")
    told = review_in_words(somebody.review, (), somebody.plan).sections
    rows = next(section.rows for section in told if section.title.startswith("What you did"))
    assert [row[2:] for row in rows] == [
        ("House 1", "you said that it was ready"),
        ("House 0", "you said that it was ready: nothing changed"),
    ]
