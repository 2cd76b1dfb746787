"""Alarms of motors and film that stand: a failsafe that tripped, a start missing, a motor lost, light on film."""

import pytest

from tests.timeline.story import TRANSIT_S, alarm, alarms_of, event, levels, live, plan_of, quiet, starts


def test_film_trip_is_raised_held_and_cleared() -> None:
    """From the trip to the next start; that the chain is stopped meanwhile is no end of it."""
    plan = plan_of(2)
    events = [
        *quiet(plan),
        event(plan, 300.0, "film_trip", "b"),
        event(plan, 300.1, "motor_stop", "b"),
        event(plan, 301.0, "chain_stop"),
        event(plan, 330.0, "motor_start", "b"),
    ]
    assert levels(plan, events, "film_trip:b", 299.9, 300.0, 329.9, 330.0) == [None, "act", "act", None]


def test_start_missing_is_raised_held_and_cleared() -> None:
    """From its grace to the start; a third motor that starts late moves the due time, and takes nothing back."""
    plan = plan_of(3)
    events = [event(plan, at_s, "motor_start", station) for at_s, station in ((0.0, "a"), (0.8, "c"), (60.0, "b"))]
    assert alarms_of(plan, events[:2], 0.95)[0] == "0.5 raised act start_missing:b"
    assert levels(plan, events, "start_missing:b", 0.4, 0.6, 0.85, 60.0) == [None, "act", "act", None]


def test_motor_lost_is_raised_held_and_cleared() -> None:
    """From the end of the grace to the start; that another stops later is no stop of the chain."""
    plan = plan_of(2)
    stops = [event(plan, 300.0, "motor_stop", "b"), event(plan, 310.0, "motor_stop", "a")]
    events = [*quiet(plan), *stops, event(plan, 330.0, "motor_start", "b")]
    assert levels(plan, events, "motor_lost:b", 300.4, 300.6, 329.9, 330.0) == [None, "act", "act", None]


def test_film_heat_is_raised_held_and_cleared() -> None:
    """From a second after the stop to the shut douser; that the failsafe trips besides changes nothing of it."""
    plan = plan_of(1, douser="contact")
    events = [
        *quiet(plan),
        event(plan, 30.0, "douser_open", "a"),
        event(plan, 300.0, "motor_stop", "a"),
        event(plan, 305.0, "film_trip", "a"),
        event(plan, 310.0, "douser_shut", "a"),
    ]
    assert levels(plan, events, "film_heat:a", 300.9, 301.1, 309.9, 310.0) == [None, "act", "act", None]


def test_a_missing_start_is_told_after_its_grace_with_its_links_under_it() -> None:
    """The motor is due with the others; its two links run out at one second a second, under it."""
    plan = plan_of()
    events = [event(plan, 0.0, "motor_start", "a"), event(plan, 0.0, "motor_start", "c")]
    told = alarms_of(plan, events, 1.9)
    assert told == [
        "0.5 raised act start_missing:b",
        "0.5 raised act slack_forecast:a>b < start_missing:b",
        "0.5 raised act slack_forecast:b>c < start_missing:b",
        "1 raised watch slack_loose:a>b < start_missing:b",
        "1 raised watch slack_tight:b>c < start_missing:b",
        "1.8 level act slack_loose:a>b < start_missing:b",
        "1.8 level act slack_tight:b>c < start_missing:b",
    ]


def test_a_start_that_comes_late_clears_the_missing_start() -> None:
    """It starts, and what stays loose stays open and now stands for itself."""
    plan = plan_of(2)
    engine = live(plan, [event(plan, 0.0, "motor_start", "a")], 1.2)
    assert alarm(engine, "slack_loose:a>b").told is False
    engine.take(event(plan, 1.3, "motor_start", "b"), 1_300_000)
    assert alarm(engine, "start_missing:b").state == "returned"
    loose = alarm(engine, "slack_loose:a>b")
    assert (loose.told, loose.state) == (True, "unacknowledged")


def test_no_start_is_due_before_another_has_started() -> None:
    """Motors that all stand are not missing."""
    plan = plan_of()
    assert alarms_of(plan, [], 3600.0) == []


def test_due_is_the_median_of_what_has_started() -> None:
    """One early motor does not make the others late."""
    plan = plan_of(3)
    events = [event(plan, -0.3, "motor_start", "a"), event(plan, 0.0, "motor_start", "b")]
    assert alarms_of(plan, events, 0.34) == []
    assert alarms_of(plan, events, 0.36)[0] == "0.35 raised act start_missing:c"


def test_a_motor_that_stays_behind_at_a_restart_is_missing() -> None:
    """After a stop of the chain the start is due again with the others."""
    plan = plan_of(3)
    stops = [event(plan, 300.0, "motor_stop", s.id) for s in plan.stations]
    again = [event(plan, 330.0, "motor_start", s) for s in ("a", "b")]
    assert "330.5 raised act start_missing:c" in alarms_of(plan, [*quiet(plan), *stops, *again], 331.0)


def test_offsets_hold_after_a_test_run_before_the_show() -> None:
    """A chain that was stopped before any head had passed starts as planned."""
    plan = plan_of(2, lamp="none")
    late = plan.model_copy(
        update={"stations": (plan.stations[0], plan.stations[1].model_copy(update={"start_offset_s": 20.0}))}
    )
    tried = [event(late, -300.0, "motor_start", s) for s in ("a", "b")]
    stopped = [event(late, -290.0, "motor_stop", s) for s in ("a", "b")]
    events = [*tried, *stopped, event(late, 0.0, "motor_start", "a"), event(late, 20.0, "motor_start", "b")]
    assert not [line for line in alarms_of(late, events, 21.0) if "start_missing" in line]


def test_two_marks_at_film_speed_show_a_motor_running_whose_contact_is_dead() -> None:
    """The first is a misfit, the second is believed."""
    plan = plan_of(2, lamp="none")
    at_s = plan.ahead_s[1]
    seen = [event(plan, at_s + x, "mark_pass", "b", mark=m) for x, m in ((40.0, "t1"), (180.0, "t2"))]
    engine = live(plan, [event(plan, 0.0, "motor_start", "a"), *seen], at_s + 181.0)
    view = engine.view().stations[1]
    assert (view.running, view.phase) == (True, "showing")
    assert alarm(engine, "start_missing:b").state == "returned"


def test_a_motor_that_stops_alone_is_lost_from_the_instant_it_stopped() -> None:
    """It is dated to its stop although the grace must pass first, and comes back with its start."""
    plan = plan_of(2)
    events = [*quiet(plan), event(plan, 300.0, "motor_stop", "b"), event(plan, 300.7, "motor_start", "b")]
    assert alarms_of(plan, events, 320.0)[0] == "300 raised act motor_lost:b"
    assert "300.7 cleared act motor_lost:b" in alarms_of(plan, events, 320.0)


def test_links_of_a_lost_motor_come_under_it() -> None:
    """Slack of both its links follows from it."""
    plan = plan_of(3)
    told = alarms_of(plan, [*quiet(plan), event(plan, 300.0, "motor_stop", "b")], 301.9)
    assert "301 raised watch slack_loose:a>b < motor_lost:b" in told
    assert "301 raised watch slack_tight:b>c < motor_lost:b" in told


@pytest.mark.parametrize("said_s", [299.8, 300.4])
def test_motors_that_stop_with_the_chain_are_not_lost(said_s: float) -> None:
    """A chain stop within the grace, before or after, explains every stop."""
    plan = plan_of(3)
    stops = [event(plan, 300.0 + k / 10, "motor_stop", s.id) for k, s in enumerate(plan.stations)]
    told = alarms_of(plan, [*quiet(plan), *stops, event(plan, said_s, "chain_stop")], 400.0)
    assert not [line for line in told if "film_heat" not in line]


def test_all_motors_stopping_together_are_a_stop_of_the_chain() -> None:
    """Nobody has to say so."""
    plan = plan_of(3)
    stops = [event(plan, 300.0 + k / 10, "motor_stop", s.id) for k, s in enumerate(plan.stations)]
    assert not [line for line in alarms_of(plan, [*quiet(plan), *stops], 400.0) if "film_heat" not in line]


def test_a_motor_that_stops_after_its_tail_is_out_is_no_alarm() -> None:
    """The end of the film is no loss."""
    plan = plan_of(2)
    clear_s = plan.mark("tail_end").x_s
    events = [
        *quiet(plan),
        *(
            event(plan, plan.mark("end").x_s + ahead + 5, "lamp_out", s.id)
            for s, ahead in zip(plan.stations, plan.ahead_s, strict=True)
        ),
        event(plan, clear_s + 3.0, "motor_stop", "a"),
        event(plan, clear_s + TRANSIT_S + 3.0, "motor_stop", "b"),
    ]
    assert alarms_of(plan, events, clear_s + 600.0) == []


def test_motors_lost_one_after_another_stay_lost() -> None:
    """Only stops within the grace of one another are a stop of the chain; a link later, they follow from the first."""
    plan = plan_of(3, lamp="none")
    stops = [event(plan, at_s, "motor_stop", s) for at_s, s in ((10.0, "a"), (12.0, "b"), (14.0, "c"))]
    told = [line for line in alarms_of(plan, [*starts(plan), *stops], 30.0) if "motor_lost" in line.split()[3]]
    assert told == [
        "10 raised act motor_lost:a",
        "12 raised act motor_lost:b < motor_lost:a",
        "14 raised act motor_lost:c < motor_lost:a",
    ]


def test_a_recording_that_ends_with_a_stop_tells_of_the_lost_motor() -> None:
    """No stop of the chain can follow where no event can."""
    plan = plan_of(2, lamp="none")
    assert alarms_of(plan, [*starts(plan), event(plan, 10.0, "motor_stop", "b")]) == ["10 raised act motor_lost:b"]


def test_motors_that_stop_one_after_another_within_the_grace_are_a_stop_of_the_chain() -> None:
    """The last stops later than the grace of the first: who stops a chain takes a moment, and nobody is told."""
    plan = plan_of(4, lamp="none", timing="start_grace_s = 0.5")
    stops = [event(plan, 100.0 + 0.3 * k, "motor_stop", station.id) for k, station in enumerate(plan.stations)]
    assert alarms_of(plan, [*starts(plan), *stops], 110.0) == []


@pytest.mark.parametrize("order", ["abcd", "acdb", "dacb"])
def test_in_whatever_order_a_chain_is_stopped_no_motor_is_lost_and_nothing_is_forecast(order: str) -> None:
    """Slack that truly came of it may be told; nothing has to be done."""
    plan = plan_of(4, lamp="none")
    stops = [event(plan, 600.0 + 0.4 * n, "motor_stop", station) for n, station in enumerate(order)]
    told = alarms_of(plan, [*starts(plan), *stops], 610.0)
    assert not [line for line in told if " act " in line or "forecast" in line]


def test_a_motor_that_stops_is_not_put_under_slack_that_was_nowhere_near_its_end() -> None:
    """Half of a reserve used, told long before and still so, explains no stop."""
    plan = plan_of(3, lamp="none")
    late = [event(plan, at_s, "motor_start", station) for station, at_s in (("a", 0.0), ("b", 1.2), ("c", 0.0))]
    events = [*late, event(plan, 600.0, "motor_stop", "b")]
    told = [line.split(maxsplit=1)[1] for line in alarms_of(plan, events, 610.0)]
    assert any(line.startswith("raised watch slack_loose:a>b") for line in told)
    assert "cleared watch slack_loose:a>b" not in told
    assert "raised act motor_lost:b" in told


@pytest.mark.parametrize(("sigma_s", "follows"), [(0.3, True), (0.05, False)])
def test_a_stop_follows_from_slack_that_may_have_been_at_its_end(sigma_s: float, follows: bool) -> None:
    """Two thirds of a reserve, give or take a good deal, may have been all of it; surely two thirds explain no stop."""
    plan = plan_of(3, lamp="none", timing="path_tolerance_percent = 0.0\nstart_spread_s = 0.0")
    read = event(plan, 600.0, "slack_read", "b", seconds=-1.34, sigma_s=sigma_s)
    late = [event(plan, 0.0 if k else 1.34, "motor_start", s.id, sigma_s=0.6) for k, s in enumerate(plan.stations)]
    told = alarms_of(plan, [*late, read, event(plan, 660.0, "motor_stop", "b")], 661.0)
    assert any("watch slack_tight:a>b" in line for line in told)
    assert ("660 raised act motor_lost:b < slack_tight:a>b" in told) is follows


def test_a_stop_follows_from_slack_as_it_has_become_since_it_was_read() -> None:
    """Half of a reserve when it was last read, all of it a quarter of an hour later."""
    timing = "path_tolerance_percent = 0.0\nstart_spread_s = 0.0\nrate_tolerance_ppm = 3000.0\nforecast_horizon_s = 60"
    plan = plan_of(3, lamp="none", timing=timing)
    reads = [
        event(plan, at_s, "slack_read", "b", seconds=-at_s / 1000.0, sigma_s=0.02)
        for at_s in (300.0, 600.0, 900.0, 1000.0)
    ]
    for stop_s, cause in ((1150.0, ""), (1850.0, " < slack_tight:a>b")):
        told = alarms_of(plan, [*starts(plan), *reads, event(plan, stop_s, "motor_stop", "b")], stop_s + 1.0)
        assert f"{stop_s:g} raised act motor_lost:b{cause}" in told


@pytest.mark.parametrize(
    ("after_s", "stopped", "cause"),
    [(20.0, "abc", "film_trip:f"), (200.0, "abc", None), (20.0, "a", None)],
)
def test_motors_that_the_crew_stops_after_a_trip_follow_from_it(
    after_s: float, stopped: str, cause: str | None
) -> None:
    """However often the failsafe tells of it; much later, or while the others run on, it is another fault."""
    plan = plan_of(6, lamp="none")
    trip = [event(plan, 100.0, "film_trip", "f"), event(plan, 100.1, "motor_stop", "f")]
    again = event(plan, 100.2 + after_s, "film_trip", "f")
    stops = [event(plan, 100.0 + after_s + 0.3 * n, "motor_stop", station) for n, station in enumerate(stopped)]
    engine = live(plan, [*starts(plan), *trip, *stops, again], 102.0 + after_s)
    assert alarm(engine, "motor_lost:a").cause == cause


def test_a_trip_stops_the_motor_and_is_first_out() -> None:
    """The failsafe, the motor, the links: one cause."""
    plan = plan_of(2)
    events = [*quiet(plan), event(plan, 300.0, "film_trip", "b"), event(plan, 300.1, "motor_stop", "b")]
    told = alarms_of(plan, events, 301.2)
    assert told[0] == "300 raised act film_trip:b"
    assert "300.1 raised act motor_lost:b < film_trip:b" in told
    assert "301.1 raised watch slack_loose:a>b < film_trip:b" in told


def test_a_start_after_a_trip_clears_it_though_no_stop_was_seen() -> None:
    """The motor starts again: that is all the alarm waits for."""
    plan = plan_of(2, lamp="none")
    events = [*starts(plan), event(plan, 10.0, "film_trip", "b"), event(plan, 60.0, "motor_start", "b")]
    assert alarms_of(plan, events, 90.0)[:2] == ["10 raised act film_trip:b", "60 cleared act film_trip:b"]


def test_a_stop_that_runs_along_the_chain_is_one_first_out() -> None:
    """Each next projector trips when the link before it has lasted its reserve: all under the first."""
    plan = plan_of(3, lamp="none")
    events = [*starts(plan)]
    for at_s, station in ((100.0, "a"), (102.0, "b"), (104.0, "c")):
        events += [event(plan, at_s, "film_trip", station), event(plan, at_s + 0.02, "motor_stop", station)]
    told = [line for line in alarms_of(plan, events, 110.0) if "raised act" in line]
    assert [line for line in told if "<" not in line] == ["100 raised act film_trip:a"]
    assert all(line.endswith("< film_trip:a") for line in told[1:])


def test_a_trip_that_no_neighbour_explains_is_one_of_its_own() -> None:
    """A motor stops at one end of the chain, a failsafe trips at the other: two faults, two first-outs."""
    plan = plan_of(4, lamp="none")
    events = [*starts(plan), event(plan, 100.0, "motor_stop", "a"), event(plan, 102.0, "film_trip", "d")]
    assert "102 raised act film_trip:d" in alarms_of(plan, events, 110.0)


def test_a_trip_follows_from_slack_that_was_told_of_whatever_reserve_was_planned() -> None:
    """A failsafe that finds too little film at two thirds of the reserve says that the reserve is less than planned."""
    plan = plan_of(3, lamp="none", timing="path_tolerance_percent = 0.0\nstart_spread_s = 0.0")
    late = [event(plan, 0.0 if k else 1.34, "motor_start", s.id) for k, s in enumerate(plan.stations)]
    engine = live(plan, [*late, event(plan, 660.0, "film_trip", "b")], 661.0)
    assert alarm(engine, "film_trip:b").cause == "slack_tight:a>b"
    assert alarm(engine, "film_trip:b").told


def test_a_trip_follows_from_slack_on_the_other_side_of_the_motor_that_is_to_blame() -> None:
    """Motor b is fast, a>b is told of as tight; b>c has not been told of when c runs out of room."""
    plan = plan_of(4, lamp="none", timing="rate_tolerance_ppm = 3000.0\nforecast_horizon_s = 60")
    reads = [
        event(plan, at_s, "slack_read", station, seconds=slack_s, sigma_s=0.05)
        for at_s in (300.0, 600.0)
        for station, slack_s in (("b", -0.002 * at_s), ("c", 0.0015 * at_s))
    ]
    engine = live(plan, [*starts(plan), *reads, event(plan, 610.0, "film_trip", "c")], 611.0)
    assert not [a for a in engine.view().alarms if a.key == "slack_loose:b>c"]
    assert alarm(engine, "film_trip:c").cause == "slack_tight:a>b"


@pytest.mark.parametrize(("motor", "follows"), [("tap", True), ("contact", False)])
def test_people_may_tell_of_a_stop_before_those_that_led_to_it(motor: str, follows: bool) -> None:
    """A link is at its end, and two houses on a trip is told of: by contacts it would be another fault."""
    plan = plan_of(4, lamp="none", motor=motor, timing="rate_tolerance_ppm = 3000.0")
    reads = [
        event(plan, at_s, "slack_read", "b", seconds=slack_s, sigma_s=0.05)
        for at_s, slack_s in ((400.0, -0.7), (800.0, -1.3), (1100.0, -1.8))
    ]
    told = alarms_of(plan, [*starts(plan), *reads, event(plan, 1150.0, "film_trip", "d")], 1151.0)
    (trip,) = (line for line in told if "film_trip" in line)
    assert (" < slack_" in trip and trip.endswith(":a>b")) is follows


def test_a_motor_that_its_failsafe_stopped_stays_under_the_trip_when_the_reserve_goes() -> None:
    """What replaces their first-out takes its place, and nothing else changes."""
    plan = plan_of(2, motor="tap", lamp="none")
    events = [event(plan, 1.5, "motor_start", "a"), event(plan, 2.8, "motor_start", "b")]
    events.append(event(plan, 3.5, "film_trip", "b", source="tap"))
    view = live(plan, events, 6.0).view()
    told = {alarm.key for alarm in view.alarms if alarm.told and alarm.state != "returned"}
    assert told == {"film_trip:b", "reserve_spent:a>b"}
