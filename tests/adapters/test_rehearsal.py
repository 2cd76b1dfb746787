"""A drill in which somebody takes part: what is done at the desks is done in the truth, and the past stays."""

from dataclasses import replace

import pytest

from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.manual import RETHREAD_AFTER_S
from adapters.drill.rehearsal import SPILL_S, surprise
from adapters.drill.scenario import HardLamp, LampOut, LateMotor, MotorStop
from adapters.drill.sights import STANDS, TAKEN_UP
from adapters.drill.simulate import simulate
from tests.adapters.rehearsing import Somebody, exact
from tests.adapters.shows import chain_plan, larkspur

TAPS = ("contact", "tap", "tap", "tap")


@pytest.mark.parametrize(
    "name",
    [
        *("clean", "careless", "lamp_out", "trip", "stuck_motor", "missing_inputs"),
        *("short_tail", "stop_with_light", "slow_crew", "foil_missing"),
    ],
)
def test_with_nobody_at_the_desks_a_full_crews_rehearsal_is_the_drill(name: str) -> None:
    """Gone through a little at a time, it posts what the drill worked out at once has, and comes to the same truth."""
    plan = larkspur()
    drill = simulate(plan, scenario_for(name, plan, 5), 5)
    somebody = Somebody(plan, scenario_for(name, plan, 5), "all", seed=5)
    somebody.wait(12_000.0)
    told = {(event.t, event.kind, event.station, event.mark, event.text) for event in somebody.events}
    until = plan.zero.timestamp() + somebody.rehearsal.at_s
    known = {(event.t, event.kind, event.station, event.mark, event.text) for event in drill.events}
    feeds = {"feed_up", "feed_down"}
    assert {each for each in told if each[1] not in feeds} == {
        each for each in known if each[1] not in feeds and each[0].timestamp() <= until
    }


@pytest.mark.parametrize("step_s", [0.4, 7.3, 900.0])
def test_the_steps_of_time_do_not_matter(step_s: float) -> None:
    """However often a feed looks, the same happens and is written down."""
    plan = larkspur()
    often, seldom = (Somebody(plan, scenario_for("lamp_out", plan, 8), seed=8) for _ in range(2))
    often.wait(1800.0)
    for n in range(1, int(1920.0 / step_s) + 1):
        seldom.events += seldom.rehearsal.advance(n * step_s - 120.0)
    seldom.events += seldom.rehearsal.advance(1800.0)
    by_id = [sorted((e for e in each.events if e.kind != "note"), key=lambda e: e.id) for each in (seldom, often)]
    assert by_id[0] == by_id[1]
    assert seldom.called == often.called


def test_a_report_leaves_what_was_before_it_as_it_was() -> None:
    """The chain is worked out again with the same seed: every pass and start up to the tap stands."""
    plan = larkspur()
    quiet, busy = (Somebody(plan, scenario_for("trip", plan, 3), seed=3) for _ in range(2))
    for somebody in (quiet, busy):
        somebody.wait(2000.0)
    before = list(busy.events)
    busy.tap("chain_stop")
    assert busy.events[: len(before)] == quiet.events
    facts = busy.rehearsal.truth.facts
    assert [fact for fact in facts if fact.at_s < 1999.0] == list(quiet.rehearsal.truth.facts)


def test_a_stop_stands_the_film_and_a_start_sets_it_going() -> None:
    """Every later pass is later by as long as the chain stood."""
    plan = chain_plan(2, minutes=20)
    somebody, nobody = Somebody(plan, exact()), Somebody(plan, exact())
    somebody.wait(300.0)
    somebody.tap("chain_stop")
    somebody.wait(400.0)
    somebody.tap("chain_start")
    for each in (somebody, nobody):
        each.wait(3000.0)
    moved = [b - a for a, b in zip(nobody.seen("mark_pass"), somebody.seen("mark_pass"), strict=True)]
    assert moved == pytest.approx([0.0, 0.0, 100.0, 100.0], abs=0.01)
    assert somebody.seen("motor_stop", "s1")[0] == pytest.approx(300.0, abs=0.01)


@pytest.mark.parametrize("quick_s", [5.0, 20.0])
def test_who_stops_the_film_sooner_loses_less(quick_s: float) -> None:
    """Film falls at film speed from when the reserve is spent until the chain stands: 1.5 ft a second on 35 mm."""
    plan = chain_plan(2)
    somebody = Somebody(plan, exact(MotorStop("s1", 600.0)))
    spent_s = 600.0 + plan.links[0].reserve_s
    somebody.wait(spent_s + quick_s)
    somebody.tap("chain_stop")
    somebody.wait(2000.0)
    (link,) = somebody.review.links
    assert link.spilled_ft == pytest.approx(1.5 * quick_s, abs=0.1)
    assert somebody.rehearsal.end is None
    assert somebody.review.first_spent_s == pytest.approx(spent_s, abs=0.01)


def test_film_that_nobody_stops_ends_the_drill() -> None:
    """Once a minute of film is on the floor there is nothing left to rehearse."""
    plan = chain_plan(2)
    somebody = Somebody(plan, exact(MotorStop("s1", 600.0)))
    somebody.wait(5000.0)
    assert somebody.rehearsal.end == "spilled"
    assert somebody.rehearsal.at_s == pytest.approx(600.0 + plan.links[0].reserve_s + SPILL_S, abs=0.01)
    assert somebody.review.links[0].spilled_ft == pytest.approx(1.5 * SPILL_S, abs=0.1)


def test_the_show_ends_when_its_last_tail_is_out() -> None:
    """A drill in which all goes well is over by itself."""
    plan = chain_plan(2, minutes=10)
    somebody = Somebody(plan, exact())
    somebody.wait(5000.0)
    assert somebody.rehearsal.end == "out"
    assert somebody.rehearsal.next_s() is not None
    assert somebody.rehearsal.advance(9000.0) == []


def test_helpers_take_up_what_hangs_loose_and_the_chain_can_be_started() -> None:
    """After a trip and a stop the film is levelled, and the show goes on to its end."""
    plan = chain_plan(2, minutes=20)
    somebody = Somebody(plan, exact(MotorStop("s1", 300.0)))
    somebody.wait(310.0)
    somebody.tap("chain_stop")
    somebody.wait(310.0 + RETHREAD_AFTER_S + 30.0)
    assert somebody.called == [STANDS, TAKEN_UP]
    somebody.tap("chain_start")
    somebody.wait(5000.0)
    assert somebody.rehearsal.end == "out"
    assert somebody.review.links[0].spilled_ft == pytest.approx(1.5 * 8.0, abs=0.1)


def test_a_chain_started_before_the_helpers_have_called_has_lost_its_film() -> None:
    """Nobody takes up film that runs: the link stays past its reserve."""
    plan = chain_plan(2, minutes=20)
    somebody = Somebody(plan, exact(MotorStop("s1", 300.0)))
    somebody.wait(310.0)
    somebody.tap("chain_stop")
    somebody.wait(330.0)
    somebody.tap("chain_start")
    somebody.wait(1000.0)
    assert somebody.called == [STANDS]
    assert somebody.rehearsal.truth.gone_s["s0>s1"] == pytest.approx(302.0, abs=0.01)


def test_a_tap_strikes_the_lamp_and_only_then_is_it_lit() -> None:
    """A lamp that is known by taps is the person's: the truth has it lit from the tap on."""
    plan = chain_plan(2, minutes=10, inputs=TAPS)
    somebody = Somebody(plan, exact())
    somebody.wait(-20.0)
    somebody.tap("lamp_lit", "s1")
    somebody.wait(300.0)
    first, second = somebody.rehearsal.truth.pictures
    assert first.lit == ()
    assert [span.from_s for span in second.lit] == [-20.0]


def test_with_all_the_crew_a_tap_may_still_step_in() -> None:
    """The film stops at the person's tap, before the crew's own, and stays as the person left it."""
    plan = larkspur()
    scenario = scenario_for("motor_lost", plan, 2)
    somebody = Somebody(plan, scenario, "all", seed=2)
    (fault,) = scenario.of(MotorStop)
    somebody.wait(fault.at_s + 0.5)
    somebody.tap("chain_stop")
    somebody.wait(fault.at_s + 60.0)
    assert [stopped_s for stopped_s, _ in somebody.rehearsal.truth.course.chain_stops] == [fault.at_s + 0.5]
    assert all(link.spilled_ft == 0.0 for link in somebody.review.links)


def test_with_no_crew_nothing_is_done_but_by_the_person() -> None:
    """No motor starts and no lamp burns by itself, whatever is on a contact; what the person does contacts report."""
    plan = chain_plan(2)
    somebody = Somebody(plan, exact(), "none")
    somebody.wait(100.0)
    assert {event.kind for event in somebody.events} == {"feed_up"}
    somebody.tap("lamp_lit", "s0")
    somebody.tap("chain_start")
    somebody.wait(110.0)
    assert somebody.seen("lamp_lit", "s0") == pytest.approx([100.0], abs=0.05)
    assert somebody.seen("motor_start") == pytest.approx([100.0, 100.0], abs=0.05)


def test_the_crew_counts_from_when_the_chain_was_truly_started() -> None:
    """Whoever starts the motors late finds lamps struck as late, not by a plan that has passed."""
    plan = chain_plan(2, inputs=("tap", "contact", "contact", "contact"))
    somebody = Somebody(plan, exact())
    somebody.wait(500.0)
    assert somebody.seen("lamp_lit") == []
    somebody.tap("chain_start")
    somebody.wait(900.0)
    assert min(somebody.seen("lamp_lit")) >= 500.0
    assert [strike.verdict for strike in somebody.review.strikes if strike.station == "s1"] == ["in time"]


def test_a_sight_is_called_out_and_never_tapped_for_the_person() -> None:
    """Where passes are tapped, the drill says what goes by and leaves the tap to whoever sees it."""
    somebody = Somebody(chain_plan(2, minutes=10, inputs=TAPS), exact())
    somebody.wait(700.0)
    assert somebody.seen("mark_pass") == []
    assert somebody.called[:2] == [
        "House 0: the first picture is at the gate",
        "House 1: the first picture is at the gate",
    ]


def test_a_lamp_that_goes_out_is_called_out_and_stays_dark_until_it_is_struck() -> None:
    """The simulated crew does not relight the person's lamp."""
    plan = chain_plan(2, minutes=20, inputs=TAPS)
    somebody = Somebody(plan, exact(LampOut("s0", 300.0, 20.0)))
    somebody.wait(-20.0)
    somebody.tap("lamp_lit", "s0")
    somebody.wait(400.0)
    assert "House 0: the lamp has gone out" in somebody.called
    somebody.tap("lamp_lit", "s0")
    somebody.wait(500.0)
    lit = somebody.rehearsal.truth.pictures[0].lit
    assert (lit[0].from_s, lit[0].until_s) == (-20.0, 300.0)
    assert lit[1].from_s == 400.0


def test_a_hard_lamp_asks_for_as_many_strikes_of_the_person() -> None:
    """The strikes before the last flicker and go out."""
    somebody = Somebody(chain_plan(1, minutes=10, inputs=TAPS), exact(HardLamp("s0", 3)))
    for at_s in (-60.0, -50.0, -40.0):
        somebody.wait(at_s)
        somebody.tap("lamp_lit", "s0")
    somebody.wait(100.0)
    lit = somebody.rehearsal.truth.pictures[0].lit
    assert [span.from_s for span in lit] == [-60.0, -50.0, -40.0]
    assert [span.until_s < 0.0 for span in lit] == [True, True, False]
    assert somebody.called.count("House 0: the lamp has gone out") == 2


def test_a_stuck_motor_does_not_start_by_another_push() -> None:
    """Only a stop of the chain frees it."""
    plan = chain_plan(2)
    somebody = Somebody(plan, exact(LateMotor("s1")))
    somebody.wait(1.0)
    somebody.tap("motor_start", "s1")
    somebody.tap("chain_start")
    somebody.wait(5.0)
    assert somebody.seen("motor_start", "s1") == []
    assert [done.changed for done in somebody.review.done] == [False, False]
    somebody.tap("chain_stop")
    somebody.wait(150.0)
    somebody.tap("chain_start")
    somebody.wait(160.0)
    assert somebody.seen("motor_start", "s1") == pytest.approx([150.0], abs=0.05)


def test_who_starts_the_chain_before_the_crew_has_a_stuck_motor_all_the_same() -> None:
    """The fault is the motor's, whoever pushes the button first."""
    somebody = Somebody(chain_plan(2), exact(LateMotor("s1")))
    somebody.wait(-60.0)
    somebody.tap("chain_start")
    somebody.wait(-55.0)
    assert somebody.seen("motor_start") == pytest.approx([-60.0], abs=0.05)
    assert somebody.seen("motor_start", "s1") == []


def test_helpers_come_once_for_each_time_that_a_reserve_was_spent() -> None:
    """A stop long after the film was taken up is a stop, and no more."""
    somebody = Somebody(chain_plan(2, minutes=30), exact(MotorStop("s1", 300.0)))
    for at_s, kind in ((310.0, "chain_stop"), (450.0, "chain_start"), (900.0, "chain_stop"), (1100.0, "chain_start")):
        somebody.wait(at_s)
        somebody.tap(kind)  # type: ignore[arg-type]
    somebody.wait(1200.0)
    assert somebody.called == [STANDS, TAKEN_UP]


def test_what_is_reported_and_is_so_already_changes_nothing() -> None:
    """A runner who confirms what a contact has seen does not start or strike anything again."""
    plan = larkspur()
    told, quiet = (Somebody(plan, scenario_for("clean", plan, 4), seed=4) for _ in range(2))
    for somebody in (told, quiet):
        somebody.wait(60.0)
    for kind, station in (("chain_start", None), ("motor_start", "h5"), ("lamp_lit", "h3")):
        told.tap(kind, station)  # type: ignore[arg-type]
    for somebody in (told, quiet):
        somebody.wait(3000.0)
    assert told.events == quiet.events
    assert not any(done.changed for done in told.review.done)


@pytest.mark.parametrize("crew", ["contacts", "all", "none"])
def test_a_surprise_is_trouble_and_the_same_for_the_same_seed(crew: str) -> None:
    """A rehearsal without a fault named has one all the same, and different ones for different seeds."""
    plan = larkspur()
    names = [surprise(plan, seed, crew).name for seed in range(20)]  # type: ignore[arg-type]
    assert names == [surprise(plan, seed, crew).name for seed in range(20)]  # type: ignore[arg-type]
    assert len(set(names)) > 5
    assert {"clean", "careless", "reading"} & set(names) == set()


@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("stations", [2, 4])
def test_every_drill_goes_on_to_an_end_whatever_is_done(name: str, stations: int) -> None:
    """Two houses or four, with a stop and a start in the middle: it ends, and can be reviewed."""
    plan = chain_plan(stations, minutes=20, inputs=TAPS)
    scenario = replace(scenario_for(name, plan, 6), crew=exact().crew)
    somebody = Somebody(plan, scenario, seed=6)
    somebody.wait(200.0)
    somebody.tap("chain_stop")
    somebody.wait(320.0)
    somebody.tap("chain_start")
    somebody.wait(6000.0)
    assert somebody.rehearsal.end in {"out", "spilled"}
    assert somebody.review.name == name
