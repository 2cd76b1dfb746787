"""A reserve that is spent is told as spent: by how much, which way, and never as to come."""

import pytest

from server.timeline.view import AlarmView
from tests.timeline.story import alarms_of, event, live, plan_of, starts


def spent_of(alarms: tuple[AlarmView, ...], link: str) -> AlarmView:
    return next(alarm for alarm in alarms if alarm.key == f"reserve_spent:{link}")


def test_a_reserve_is_spent_once_slack_is_past_it_by_a_standard_deviation() -> None:
    """A motor that stands takes a second of film a second off the link behind it."""
    plan = plan_of(3, lamp="none")
    engine = live(plan, [*starts(plan), event(plan, 600.0, "motor_stop", "b")], 610.0)
    variance = engine.view().links[0].slack_var
    assert variance is not None
    fold_sd_s = variance[0] ** 0.5
    told = alarms_of(plan, [*starts(plan), event(plan, 600.0, "motor_stop", "b")], 610.0)
    on_s = next(float(line.split()[0]) for line in told if "raised act reserve_spent:a>b" in line)
    assert on_s - 600.0 == pytest.approx(2.0 + fold_sd_s, abs=0.05)


def test_it_takes_the_place_of_what_was_told_of_its_link() -> None:
    """No slack and no forecast beside it; it is told though it is under the stop."""
    plan = plan_of(3, lamp="none")
    engine = live(plan, [*starts(plan), event(plan, 600.0, "motor_stop", "b")], 610.0)
    alarms = engine.view().alarms
    assert {alarm.kind for alarm in alarms if alarm.subject == "a>b"} == {"reserve_spent"}
    spent = spent_of(alarms, "a>b")
    assert (spent.level, spent.cause, spent.told) == ("act", "motor_lost:b", True)


def test_what_is_spent_by_drift_alone_stands_for_itself() -> None:
    """What it replaces is no cause of it."""
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0")
    reads = [event(plan, 600.0 * n, "slack_read", "b", seconds=0.5 * n, sigma_s=0.03) for n in range(1, 4)]
    engine = live(plan, [*starts(plan), *reads], 2800.0)
    assert spent_of(engine.view().alarms, "a>b").cause is None
    assert not [alarm for alarm in engine.view().alarms if alarm.kind.startswith("slack_")]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (3.37, "House 1 to 2: the reserve is spent: film on the floor, 3.4 s too much, 5 ft 1 frame to take out"),
        (-2.6, "House 1 to 2: the reserve is spent: film taut, 2.6 s too little, 3 ft 14 frames to give"),
    ],
)
def test_how_much_it_is_past_is_said_in_seconds_and_in_film(seconds: float, words: str) -> None:
    """As a counter counts it: 24 frames a second, 16 to a foot."""
    plan = plan_of(2, lamp="none")
    stop = [event(plan, 600.0, "chain_stop"), *(event(plan, 600.0, "motor_stop", one.id) for one in plan.stations)]
    read = event(plan, 700.0, "slack_read", "b", seconds=seconds, sigma_s=0.05)
    assert spent_of(live(plan, [*starts(plan), *stop, read], 710.0).view().alarms, "a>b").text == words


def test_film_that_goes_on_running_is_told_to_be_growing() -> None:
    """A figure that is old by the time it is read says so."""
    plan = plan_of(2, lamp="none")
    engine = live(plan, [*starts(plan), event(plan, 600.0, "motor_stop", "b")], 604.0)
    alarm = spent_of(engine.view().alarms, "a>b")
    assert alarm.text.endswith(", and growing")
    assert "film on the floor, more than " in alarm.text
    assert alarm.todo.startswith("Stop House 1; House 2 stands.")


@pytest.mark.parametrize(("kind", "seconds"), [("slack_read", 1.7), ("relaced", None), ("slack_read", 1.9)])
def test_it_is_over_once_the_link_is_read_or_laced_anew_with_a_tenth_to_spare(kind: str, seconds: float | None) -> None:
    """1.8 s of 2 s: more than that is still spent."""
    plan = plan_of(2, lamp="none")
    stop = [event(plan, 600.0, "motor_stop", "b"), event(plan, 603.0, "motor_stop", "a")]
    mend = event(plan, 900.0, kind, "b", seconds=seconds, sigma_s=0.02)
    told = alarms_of(plan, [*starts(plan), *stop, mend], 950.0)
    assert ("900 cleared act reserve_spent:a>b < motor_lost:b" in told) is (seconds != 1.9)


def test_a_link_laced_anew_holds_what_was_said_of_it_and_moves_no_other() -> None:
    """With the uncertainty of a reading; without a figure it is as it was threaded."""
    plan = plan_of(3, lamp="none")
    stop = [event(plan, 600.0, "motor_stop", "b"), event(plan, 603.0, "motor_stop", "a")]
    stop.append(event(plan, 603.0, "motor_stop", "c"))
    before = live(plan, [*starts(plan), *stop], 700.0).view().links
    after = live(plan, [*starts(plan), *stop, event(plan, 650.0, "relaced", "b", sigma_s=0.1)], 700.0).view().links
    assert before[0].slack_s == pytest.approx(3.0, abs=0.05)
    assert after[0].slack_s == pytest.approx(0.0, abs=0.02)
    assert after[0].slack_var is not None
    assert after[0].slack_var[0] ** 0.5 == pytest.approx(0.1, abs=0.02)
    assert after[1].slack_s == pytest.approx(before[1].slack_s, abs=0.02)


def test_a_forecast_says_so_once_the_reserve_is_most_likely_gone() -> None:
    """Between the reserve and a standard deviation past it nothing is told as to come."""
    plan = plan_of(2, lamp="none", timing="rate_tolerance_ppm = 3000.0\ntap_sigma_s = 0.3")
    reads = [
        event(plan, 600.0 * n, "slack_read", "b", seconds=0.5 * n, source="tap", sigma_s=0.25) for n in range(1, 4)
    ]
    for now_s in range(1900, 2700, 20):
        view = live(plan, [*starts(plan), *reads], float(now_s)).view()
        slack_s = (view.links[0].slack_s or 0.0) + (now_s - view.links[0].at_s) * (view.links[0].drift or 0.0)
        told = [alarm.text for alarm in view.alarms if alarm.kind == "slack_forecast"]
        if slack_s > 2.01:
            assert not any("will be gone" in text for text in told), now_s


def test_what_is_read_of_film_that_stands_is_how_it_was_left() -> None:
    """Somebody took it through by hand: a tap's reading counts for more than what the contacts last knew."""
    plan = plan_of(3, lamp="none")
    stop = [event(plan, 600.0, "chain_stop"), *(event(plan, 600.0, "motor_stop", one.id) for one in plan.stations)]
    read = event(plan, 640.0, "slack_read", "b", seconds=0.8, source="tap")
    links = live(plan, [*starts(plan), *stop, read], 650.0).view().links
    assert links[0].slack_s == pytest.approx(0.8, abs=0.1)
    assert links[1].slack_s == pytest.approx(0.0, abs=0.05)


def test_film_that_runs_back_leaves_a_reserve_spent_until_somebody_looks() -> None:
    """Six seconds lay on the floor, and the next motor took them up again: nobody knows how the film lies."""
    plan = plan_of(2, lamp="none")
    events = [*starts(plan), event(plan, 500.0, "motor_stop", "b"), event(plan, 506.0, "motor_stop", "a")]
    events.append(event(plan, 510.0, "motor_start", "b"))
    back = spent_of(live(plan, events, 515.9).view().alarms, "a>b")
    assert back.state != "returned"
    events.append(event(plan, 515.9, "motor_start", "a"))
    still = spent_of(live(plan, events, 700.0).view().alarms, "a>b")
    assert "nobody has read it" in still.text
    read = event(plan, 700.0, "slack_read", "b", seconds=0.1, sigma_s=0.1)
    read_view = live(plan, [*events, read], 710.0).view()
    assert spent_of(read_view.alarms, "a>b").state == "returned"


def test_a_reserve_that_was_only_believed_to_be_spent_is_over_as_soon_as_it_is_known() -> None:
    """Somebody tapped a stop in the wrong house: two marks go by there as if nothing had been."""
    plan = plan_of(2, motor="tap", lamp="none")
    events = [event(plan, 0.0, "chain_start", source="tap"), event(plan, 200.0, "motor_stop", "b", source="tap")]
    assert spent_of(live(plan, events, 210.0).view().alarms, "a>b").state != "returned"
    events += [event(plan, 180.0 + plan.ahead_s[1], "mark_pass", "b", mark="t2", source="tap")]
    events += [event(plan, 320.0 + plan.ahead_s[1], "mark_pass", "b", mark="film", source="tap")]
    alarms = live(plan, events, 400.0).view().alarms
    assert not [alarm for alarm in alarms if alarm.kind == "reserve_spent" and alarm.state != "returned"]


def test_a_start_that_nobody_has_tapped_yet_spends_no_reserve() -> None:
    """Whoever goes along the chain taps one house after the other."""
    plan = plan_of(3, motor="tap", lamp="none")
    told = alarms_of(plan, [event(plan, 0.0, "motor_start", "a", source="tap")], 30.0)
    assert not [line for line in told if "reserve_spent" in line]


def test_what_a_reserve_replaced_is_forgotten_once_it_has_cleared() -> None:
    """Slack that comes later is told at the half of the reserve, as any is."""
    plan = plan_of(2, lamp="none")
    stops = [event(plan, 500.0, "motor_stop", "b"), event(plan, 503.0, "motor_stop", "a")]
    laced = [event(plan, 560.0, "relaced", "b", sigma_s=0.02)]
    laced.append(event(plan, 570.0, "relaced", "b", seconds=0.9, sigma_s=0.02))
    told = alarms_of(plan, [*starts(plan), *stops, *laced], 600.0)
    assert not [line for line in told if float(line.split()[0]) > 560.0]


def test_film_taken_through_by_hand_is_where_the_next_marks_show_it() -> None:
    """All links were taken up from above, by sixteen seconds: that is no fault of any motor after the restart."""
    plan = plan_of(5, lamp="none")
    stops = [event(plan, 100.0 + 4.0 * k, "motor_stop", one.id) for k, one in enumerate(plan.stations)]
    laced = [event(plan, 200.0 + k, "relaced", one.id, sigma_s=0.15) for k, one in enumerate(plan.stations[1:])]
    events = [*starts(plan), *stops, *laced, *starts(plan, 300.0)]
    for k, station in enumerate(plan.stations):
        for mark, x_s in (("t2", 180.0), ("film", 320.0)):
            events.append(event(plan, x_s + plan.ahead_s[k] + 300.0 - 116.0, "mark_pass", station.id, mark=mark))
    told = [line for line in alarms_of(plan, events, 1200.0) if float(line.split()[0]) > 310.0]
    assert not [line for line in told if "raised" in line]
