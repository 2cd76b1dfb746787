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


def test_two_sources_that_cannot_both_be_right_are_told() -> None:
    """A tap 3.5 s before the contact is no tap of that start: it is said so, and the first stands."""
    plan = plan_of(2)
    events = [*starts(plan)[1:], tapped(plan, 0.0, "motor_start"), event(plan, 3.5, "motor_start", "a")]
    alarms = live(plan, events, 5.0).view().alarms
    assert [alarm.text for alarm in alarms if alarm.kind == "misfit"] == [
        "House 1 was told to start twice, 3.5 s apart"
    ]


def test_a_motor_that_starts_again_after_a_stop_is_another_start() -> None:
    """One fact told twice is not mistaken for two starts, nor two starts for one."""
    plan = plan_of(2)
    stop, again = event(plan, 2.0, "motor_stop", "a"), event(plan, 4.0, "motor_start", "a")
    view = shown(plan, [*starts(plan), stop, again], 10.0)
    assert (view.started_s, view.running) == (4.0, True)
    assert abs(view.count_s + (10.0 - view.at_s) * view.rate - 8.0) < 0.1
