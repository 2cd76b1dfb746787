"""Several sources for one fact are one fact, with the better time; where they disagree it is told."""

import pytest

from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.view import StationView
from tests.timeline.story import event, live, plan_of, starts

LAG_S = 0.25  # what is taken off every tap, by default


def tapped(plan: Plan, at_s: float, kind: str, station: str = "a") -> Event:
    """A tap that counts at `at_s`."""
    return event(plan, at_s + LAG_S, kind, station, source="tap:pad")


def shown(plan: Plan, events: list[Event], now_s: float) -> StationView:
    return live(plan, events, now_s).view().stations[0]


@pytest.mark.parametrize("tap_s", [-0.8, 0.6], ids=["tap first", "contact first"])
def test_a_tap_and_a_contact_of_one_start_are_one_start_at_the_contacts_time(tap_s: float) -> None:
    """Whichever comes first, the motor started when its contact closed, and its film is counted from then."""
    plan = plan_of(2)
    view = shown(plan, [*starts(plan), tapped(plan, tap_s, "motor_start")], 10.0)
    assert view.started_s == 0.0
    assert abs(view.count_s + (10.0 - view.at_s) * view.rate - 10.0) < 0.02


def test_a_stop_that_nobody_saw_is_dated_by_whoever_did() -> None:
    """A contact was away from 100 to 200 s and found the motor standing; a tap had seen it stop at 190 s."""
    plan = plan_of(2)
    away = event(plan, 150.0, "motor_stop", "a", sigma_s=50.0)
    view = shown(plan, [*starts(plan), away, tapped(plan, 190.0, "motor_stop")], 210.0)
    assert view.stopped_s == 190.0
    assert abs(view.count_s - 190.0) < 0.5
    unseen = shown(plan, [*starts(plan), away], 210.0)
    assert unseen.stopped_s == 150.0
    assert unseen.eta_var[0] > 40.0**2 > view.eta_var[0]


@pytest.mark.parametrize("tap_s", [0.0, 7.0], ids=["tap first", "contact first"])
@pytest.mark.parametrize("kind", ["motor_start", "motor_stop"])
def test_the_surer_time_stands_whichever_came_first(kind: str, tap_s: float) -> None:
    """A tap 3.5 s from the contact's time moves neither the start or stop nor the film's count."""
    plan = plan_of(2)
    turns = [event(plan, 3.5, "motor_start", "a"), *starts(plan)[1:]]
    shift_s = 0.0
    if kind == "motor_stop":
        turns, shift_s = [*starts(plan), event(plan, 103.5, "motor_stop", "a")], 100.0
    view = shown(plan, [*turns, tapped(plan, shift_s + tap_s, kind)], shift_s + 10.0)
    assert (view.started_s if kind == "motor_start" else view.stopped_s) == shift_s + 3.5
    count_s = 6.5 if kind == "motor_start" else 103.5
    assert abs(view.count_s + (shift_s + 10.0 - view.at_s) * view.rate - count_s) < 0.1


def test_two_sources_that_cannot_both_be_right_are_told() -> None:
    """A tap 3.5 s before the contact is no tap of that start: it is said so, and which of the two stands."""
    plan = plan_of(2)
    events = [*starts(plan)[1:], tapped(plan, 0.0, "motor_start"), event(plan, 3.5, "motor_start", "a")]
    alarms = live(plan, events, 5.0).view().alarms
    assert [alarm.text for alarm in alarms if alarm.kind == "misfit"] == [
        "House 1 was told to start twice, 3.5 s apart; the surer time stands"
    ]


def test_a_motor_that_starts_again_after_a_stop_is_another_start() -> None:
    """One fact told twice is not mistaken for two starts, nor two starts for one."""
    plan = plan_of(2)
    stop, again = event(plan, 2.0, "motor_stop", "a"), event(plan, 4.0, "motor_start", "a")
    view = shown(plan, [*starts(plan), stop, again], 10.0)
    assert (view.started_s, view.running) == (4.0, True)
    assert abs(view.count_s + (10.0 - view.at_s) * view.rate - 8.0) < 0.1


def test_a_motor_that_is_found_running_started_with_the_others_where_that_may_be() -> None:
    """Its contact was away from -10 to 20 s; a start in the middle, at 5 s, would be slack that is not there."""
    plan = plan_of(2)
    found = event(plan, 5.0, "motor_start", "b", sigma_s=15.0)
    run = live(plan, [*starts(plan)[:1], found], 30.0).view()
    assert abs(run.stations[1].started_s or 0.0) < 0.01
    slack_s, variance = run.links[0].slack_s, run.links[0].slack_var
    assert slack_s is not None
    assert variance is not None
    assert abs(slack_s) < 0.1
    assert variance[0] < 0.2**2
    assert [alarm.key for alarm in run.alarms if alarm.kind.startswith("slack")] == []


def test_a_motor_that_is_found_running_too_late_for_the_others_started_by_itself() -> None:
    """Between 60 and 70 s nobody else started: it is late, and its link has that much slack."""
    plan = plan_of(2)
    view = live(plan, [*starts(plan)[:1], event(plan, 65.0, "motor_start", "b", sigma_s=5.0)], 80.0).view()
    assert view.stations[1].started_s == 65.0


def test_a_start_is_not_missing_where_nobody_can_see_it() -> None:
    """The feed of the second motor is silent: a watch under that, and nothing is told of slack; back, it is missing."""
    plan = plan_of(2)
    silent = event(plan, -20.0, "feed_down", source="contact:south", text="unplugged")
    engine = live(plan, [silent, *starts(plan)[:1]], 10.0)
    alarms = {alarm.key: alarm for alarm in engine.view().alarms}
    assert set(alarms) == {"feed_silent:contact:south", "start_missing:b"}
    missing = alarms["start_missing:b"]
    assert (missing.level, missing.cause, missing.told) == ("watch", "feed_silent:contact:south", False)
    assert engine.view().links[0].slack_s is None
    back = event(plan, 12.0, "feed_up", source="contact:south")
    told = {alarm.key: alarm.level for alarm in live(plan, [silent, *starts(plan)[:1], back], 14.0).view().alarms}
    assert told["start_missing:b"] == "act"


def test_a_start_that_was_missed_before_its_feed_fell_silent_stays_missing() -> None:
    """What was known is not taken back."""
    plan = plan_of(2)
    silent = event(plan, 5.0, "feed_down", source="contact:south", text="unplugged")
    levels = {a.key: a.level for a in live(plan, [*starts(plan)[:1], silent], 10.0).view().alarms}
    assert levels["start_missing:b"] == "act"


def test_a_silent_feed_of_other_houses_excuses_no_start() -> None:
    """Something of this station came over another feed, which is well."""
    plan = plan_of(2)
    events = [
        event(plan, -30.0, "douser_shut", "b", source="contact:north/7"),
        event(plan, -20.0, "feed_down", source="contact:south", text="unplugged"),
        *starts(plan)[:1],
    ]
    levels = {alarm.key: alarm.level for alarm in live(plan, events, 10.0).view().alarms}
    assert levels["start_missing:b"] == "act"


def test_a_start_of_the_chain_counts_for_a_motor_whose_feed_is_silent() -> None:
    """Until the contacts are back people report by hand, and one tap tells of all motors."""
    plan = plan_of(2)
    silent = event(plan, -20.0, "feed_down", source="contact:south", text="unplugged")
    view = live(plan, [silent, event(plan, LAG_S, "chain_start", source="tap:pad")], 10.0).view()
    assert [station.started_s for station in view.stations] == [0.0, 0.0]
