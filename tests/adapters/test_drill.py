"""The drill's physics: film is conserved, tolerances are as the plan has them, failsafes trip where they must."""

import json
import time
from itertools import pairwise

import numpy as np
import pytest

from adapters.drill import Drill, Scenario, simulate
from adapters.drill.scenario import (
    EXACT,
    ChainStop,
    Crew,
    HardLamp,
    LampOut,
    LateMotor,
    LateStrike,
    MotorStop,
    Nature,
    RateFault,
    TripAt,
)
from server.timeline.events import json_from_event, read_recording
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from tests.adapters.shows import chain_plan, larkspur

NO_ERRORS = Scenario("exact", "", nature=EXACT, crew=Crew(exact=True, missed=0.0))


def exact(plan: Plan, *faults: object, **rest: object) -> Drill:
    return simulate(plan, Scenario("exact", "", faults, nature=EXACT, crew=NO_ERRORS.crew, **rest), 1)  # type: ignore[arg-type]


@pytest.mark.parametrize("timing", ["", "runup_loss_s = 0.8\ncoast_s = 0.3"])
def test_without_errors_every_pass_is_as_planned(timing: str) -> None:
    """The simulator and the schedule are two programs that must agree where nothing errs, to a microsecond."""
    plan = chain_plan(5, timing=timing)
    truth = exact(plan).truth
    for station in schedule_from_plan(plan).stations:
        # The leader's first frame is threaded into the first gate: it is there before any motor runs.
        planned = {mark: at_s for mark, at_s in station.passes.items() if mark != "leader"}
        assert {mark: truth.passes[station.id][mark] for mark in planned} == pytest.approx(planned, abs=1e-6)


def test_without_errors_the_demonstration_plan_runs_as_planned() -> None:
    """The same on nine houses in three booths."""
    plan = larkspur()
    truth = exact(plan).truth
    planned = {station.id: station.passes for station in schedule_from_plan(plan).stations}
    assert all(truth.passes[station] == pytest.approx(planned[station], abs=1e-6) for station in planned)


def test_film_is_conserved_from_the_first_gate_to_the_last() -> None:
    """What the first gate fed and the last did not is in the links between them, at every time."""
    truth = simulate(chain_plan(6), Scenario("d", ""), 3).truth
    t_s = np.linspace(0.0, 3000.0, 501)
    held_s = np.sum([truth.slack_s(link.id, t_s) for link in truth.plan.links], axis=0)
    assert truth.count_s("s0", t_s) - truth.count_s("s5", t_s) == pytest.approx(held_s, abs=1e-9)


def test_a_mark_that_has_left_one_gate_is_later_by_the_film_in_the_link() -> None:
    """Film between two gates as a mark reaches the second: the true path and the slack, both as film."""
    truth = simulate(chain_plan(4), Scenario("d", ""), 5).truth
    for link in truth.plan.links:
        for mark in ("head", "r2", "end"):
            there_s = truth.passes[link.downstream][mark]
            behind_s = truth.count_s(link.upstream, np.array(there_s)) - truth.count_s(
                link.upstream, np.array(truth.passes[link.upstream][mark])
            )
            slack_s = truth.count_s(link.upstream, np.array(there_s)) - truth.count_s(
                link.downstream, np.array(there_s)
            )
            assert behind_s == pytest.approx(truth.transit_s[link.id] + slack_s, abs=1e-6)


def test_passes_follow_the_film_and_the_chain() -> None:
    """At a gate marks come in film order; a mark comes to the gates in chain order."""
    truth = simulate(chain_plan(5), Scenario("d", ""), 7).truth
    marks = [mark.id for mark in sorted(truth.plan.marks, key=lambda mark: mark.x_s)]
    for passes in truth.passes.values():
        times_s = [passes[mark] for mark in marks]
        assert times_s == sorted(times_s)
    for mark in marks:
        at_gates_s = [truth.passes[station.id][mark] for station in truth.plan.stations]
        assert all(early < late for early, late in pairwise(at_gates_s))


def test_the_mains_move_every_motor_and_no_slack() -> None:
    """check-values.md, "what slip does" (derived): mains error alone moves all motors together and no slack."""
    plan = chain_plan(4)
    only_mains = Nature(rate=0.0, walk=0.0, path=0.0, start=0.0, runup=0.0)
    truth = simulate(plan, Scenario("d", "", (RateFault(None, 900.0, 3000.0),), nature=only_mains), 2).truth
    t_s = np.linspace(0.0, 3000.0, 301)
    assert all(np.max(np.abs(truth.slack_s(link.id, t_s))) < 1e-9 for link in plan.links)
    planned = schedule_from_plan(plan).stations[3].passes["end"]
    assert abs(truth.passes["s3"]["end"] - planned) > 1.0


def test_slip_between_two_motors_spends_the_reserve_when_arithmetic_says() -> None:
    """check-values.md, "what slip does" (derived): 0.1 % between two motors eats a 2 s reserve in 2000 s."""
    truth = exact(chain_plan(2), RateFault("s1", 0.0, 1000.0)).truth
    assert truth.gone_s["s0>s1"] == pytest.approx(2000.0, abs=1e-3)
    assert truth.trips[0].at_s == pytest.approx(2000.0, abs=1e-3)


def test_tolerances_are_those_of_the_plan() -> None:
    """Own rates, paths, starts and the mains have the plan's standard deviations; within four standard errors."""
    plan = chain_plan(9, minutes=10, timing="rate_walk_ppm_per_sqrt_hour = 0")
    truths = [simulate(plan, Scenario("d", ""), seed).truth for seed in range(60)]
    rates = np.array([[truth.rate(station.id, np.array(300.0)) for station in plan.stations] for truth in truths])
    own_ppm = (rates - rates.mean(axis=1, keepdims=True)) * 1e6 * (9 / 8) ** 0.5
    assert own_ppm.std() == pytest.approx(50.0, rel=4 / (2 * 480) ** 0.5)
    assert (rates.mean(axis=1).std() * 1e6) == pytest.approx(1000.0, rel=4 / (2 * 60) ** 0.5)
    paths = np.array([[truth.transit_s[link.id] / link.transit_s - 1.0 for link in plan.links] for truth in truths])
    assert paths.std() == pytest.approx(0.01, rel=4 / (2 * 480) ** 0.5)
    starts = np.array([list(truth.starts_s.values()) for truth in truths], dtype=float)
    assert starts.std() == pytest.approx(0.1, rel=4 / (2 * 540) ** 0.5)


def test_a_motor_that_stops_takes_its_neighbours_along_one_reserve_apart() -> None:
    """Downstream each link goes tight at a second a second, so each next projector trips a reserve later."""
    truth = exact(chain_plan(5), MotorStop("s1", 1000.0)).truth
    ((stopped_s, started_s),) = truth.course.chain_stops
    assert 1002.0 < stopped_s < 1030.0
    assert started_s is None
    followers = {"s2": 1002.0, "s3": 1004.0, "s4": 1006.0}
    before_the_stop = {station: at_s for station, at_s in followers.items() if at_s < stopped_s}
    assert {trip.station: trip.at_s for trip in truth.trips} == pytest.approx(before_the_stop, abs=1e-6)
    upstream = next(spent for spent in truth.spent if spent.link == "s0>s1")
    assert (upstream.at_s, upstream.slack_s) == pytest.approx((1002.0, 2.0), abs=1e-6)
    assert truth.passes["s0"].get("end") is None


def test_the_failsafe_trips_at_its_own_slack_where_that_is_not_the_plans() -> None:
    """A failsafe set short trips before the planned reserve is spent, one set wide after."""
    for slack_s in (1.2, 2.6):
        fault = RateFault("s1", 0.0, 1000.0)
        truth = exact(chain_plan(2), fault, TripAt("s0>s1", slack_s)).truth
        assert truth.trips[0].at_s == pytest.approx(1000.0 * slack_s, abs=1e-3)


def test_a_motor_that_does_not_start_stops_the_chain_until_it_is_rethreaded() -> None:
    """Links go tight and loose at once; after rethreading the chain runs to its end with almost no slack."""
    truth = simulate(chain_plan(5), Scenario("d", "", (LateMotor("s2"),), restart_after_s=200.0), 4).truth
    assert truth.trips[0].station == "s3"
    ((stopped_s, started_s),) = truth.course.chain_stops
    assert started_s == pytest.approx(stopped_s + 200.0)
    assert truth.starts_s["s2"] == pytest.approx(started_s, abs=1.0)
    assert started_s is not None
    after_s = np.array(started_s + 30.0)
    assert all(abs(truth.slack_s(link.id, after_s)) < 0.8 for link in truth.plan.links)
    standing_s = np.array([stopped_s + 5.0, started_s - 5.0])
    taken_s = {station.id: float(np.diff(truth.count_s(station.id, standing_s))[0]) for station in truth.plan.stations}
    assert taken_s["s0"] < 0.3  # the station furthest ahead stays; the others are brought level with it
    assert taken_s["s2"] == pytest.approx(stopped_s, abs=1.0)
    assert all("tail_end" in passes for passes in truth.passes.values())


def test_a_link_that_nothing_feeds_any_more_is_not_read() -> None:
    """The first house is over when the chain is stopped; whoever rethreads it reads the other link alone."""
    plan = chain_plan(3)
    drill = simulate(plan, Scenario("d", "", (MotorStop("s2", 3765.0),), restart_after_s=200.0), 4)
    ((stopped_s, _),) = drill.truth.course.chain_stops
    assert drill.truth.passes["s0"]["tail_end"] < stopped_s < drill.truth.passes["s1"]["tail_end"]
    assert [event.station for event in drill.events if event.kind in {"slack_read", "relaced"}] == ["s2"]


def test_a_stop_of_the_chain_shifts_every_later_pass_by_as_much() -> None:
    """All motors stop and start together: no slack, and the rest of the show is as much later."""
    plan = chain_plan(3)
    plain, stopped = exact(plan).truth, exact(plan, ChainStop(1500.0, 240.0)).truth
    assert stopped.passes["s2"]["r1"] == plain.passes["s2"]["r1"]
    assert stopped.passes["s2"]["end"] == pytest.approx(plain.passes["s2"]["end"] + 240.0, abs=1e-6)
    assert stopped.trips == ()


def test_the_crew_strikes_in_the_window_by_the_planned_clock() -> None:
    """model.md: between `earliest_s` and `latest_s` before the picture; a fault makes it late by as much."""
    plan = chain_plan(6)
    late = LateStrike("s3", 50.0)
    truth = simulate(plan, Scenario("d", "", (late,), crew=Crew(strike_fails=0.0)), 6).truth
    for station, picture in zip(plan.stations, truth.pictures, strict=True):
        before_s = truth.passes[station.id]["head"] - picture.lit[-1].from_s
        if station.id == "s3":
            assert before_s == pytest.approx(15.0 - 50.0)
        else:
            assert 15.0 < before_s < 95.0  # the film itself is a second or two off the plan


def test_the_crew_shifts_its_clock_by_a_stop_of_the_chain() -> None:
    """After five minutes of standing film a lamp is struck five minutes later, again in its window."""
    truth = simulate(chain_plan(6), Scenario("d", "", (ChainStop(200.0, 300.0),), crew=Crew(strike_fails=0.0)), 6).truth
    before_s = truth.passes["s5"]["head"] - truth.pictures[5].lit[-1].from_s
    assert 15.0 < before_s < 95.0


def test_a_hard_lamp_takes_longer_than_an_easy_one() -> None:
    """Every further strike takes seconds."""
    plan = chain_plan(2)
    easy = simulate(plan, Scenario("d", "", (HardLamp("s1", 1),)), 3).truth.pictures[1]
    hard = simulate(plan, Scenario("d", "", (HardLamp("s1", 6),)), 3).truth.pictures[1]
    assert 5 * 3.0 <= hard.lit[-1].from_s - easy.lit[-1].from_s <= 5 * 6.0


def test_a_lamp_that_goes_out_is_dark_until_it_is_lit_again() -> None:
    """Everything else about the lamp stays as it was."""
    plan = chain_plan(2)
    whole = simulate(plan, Scenario("d", ""), 3).truth.pictures[1]
    broken = simulate(plan, Scenario("d", "", (LampOut("s1", 1000.0, 45.0),)), 3).truth.pictures[1]
    assert broken.lit[-2].until_s == 1000.0
    assert broken.lit[-1].from_s == 1045.0
    assert broken.lit[-1].until_s == whole.lit[-1].until_s


def test_lamps_are_put_out_and_dousers_shut_while_the_chain_stands() -> None:
    """No lamp burns at standing film for minutes; after the restart there is a picture again."""
    truth = simulate(chain_plan(3), Scenario("d", "", (ChainStop(1500.0, 300.0),)), 8).truth
    for picture in truth.pictures:
        assert not any(span.from_s < 1650.0 < span.until_s for span in (*picture.lit, *picture.open))
        assert any(span.from_s < 1805.0 < span.until_s for span in picture.lit)
        assert any(span.from_s < 1805.0 < span.until_s for span in picture.open)


def test_equal_seeds_give_equal_drills_and_others_do_not() -> None:
    """A drill can be given again by its plan, its scenario and one number."""
    plan, scenario = larkspur(), Scenario("d", "", crew=Crew(reads_every_s=900.0))
    first, again, other = (simulate(plan, scenario, seed) for seed in (11, 11, 12))
    assert first.events == again.events
    assert first.truth.passes == again.truth.passes
    assert first.truth.passes != other.truth.passes


def test_a_fault_at_one_place_leaves_the_rest_of_the_show_as_it_was() -> None:
    """Chance comes in streams: with a fault added, what it does not touch is the same to the last digit."""
    plan = larkspur()
    plain = simulate(plan, Scenario("d", ""), 9)
    faulty = simulate(plan, Scenario("d", "", (LampOut("h5", 2500.0, 30.0),)), 9)
    elsewhere = [[event for event in drill.events if event.station != "h5"] for drill in (plain, faulty)]
    bare = [[event.model_copy(update={"id": ""}) for event in events] for events in elsewhere]
    assert bare[0] == bare[1]
    assert plain.truth.passes == faulty.truth.passes


def test_a_drill_is_a_good_recording() -> None:
    """Written down and read again, not one line is rejected and every event is the same."""
    plan = larkspur()
    events = simulate(plan, Scenario("d", "", crew=Crew(wrong_house=0.1, reads_every_s=900.0)), 13).events
    recording = read_recording([json.dumps(json_from_event(event)) for event in events], plan, "drill")
    assert recording.rejected == []
    assert sorted(recording.events, key=lambda event: event.id) == sorted(events, key=lambda event: event.id)


def test_a_scenario_for_another_plan_is_refused() -> None:
    """A misspelled station is our misuse, and raises at once."""
    with pytest.raises(ValueError, match="LampOut: station: found 'h77'"):
        simulate(chain_plan(), Scenario("d", "", (LampOut("h77", 10.0),)), 1)
    with pytest.raises(ValueError, match="accepted 60 or more"):
        Scenario("d", "", restart_after_s=10.0)


def test_a_three_hour_show_in_nine_houses_takes_less_than_three_tenths_of_a_second() -> None:
    """Hundreds of shows must be cheap: processor time, the best of three."""
    plan = chain_plan(9, minutes=180)
    spent_s = []
    for seed in range(3):
        begun_s = time.process_time()
        simulate(plan, Scenario("d", "", (RateFault("s4", 3000.0, 300.0),)), seed)
        spent_s.append(time.process_time() - begun_s)
    assert min(spent_s) < 0.3
