"""Alarms that people raise: what is wrong in a house, and a call to a booth. What comes of them is in test_people."""

from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.timeline.story import event, levels, plan_of


def said(plan: Plan, at_s: float, kind: str, station: str | None = None, **more: object) -> Event:
    """Somebody says it, so that it counts at `at_s`."""
    return event(plan, at_s + plan.timing.tap_lag_s, kind, station, source="tap:pad", **more)


def test_house_report_is_raised_held_and_cleared() -> None:
    """Until it is over in the house: that somebody has it is not that."""
    plan = plan_of(1)
    events = [
        said(plan, 5.0, "report", "a", what="no_picture", by="Ida"),
        said(plan, 8.0, "ack", alarm="house_report:a", by="Bo"),
        said(plan, 60.0, "report_over", "a", by="Bo"),
    ]
    assert levels(plan, events, "house_report:a", 4.9, 5.0, 59.9, 60.0) == [None, "act", "act", None]


def test_call_is_raised_held_and_cleared() -> None:
    """Until it is acknowledged, however often that booth is called meanwhile."""
    plan = plan_of(1, station='booth = "North"')
    events = [
        said(plan, 5.0, "call", to="North", text="Stand by."),
        said(plan, 6.0, "call", to="North", text="Now, please."),
        said(plan, 60.0, "ack", alarm="call:North", by="Bo"),
    ]
    assert levels(plan, events, "call:North", 4.9, 5.0, 59.9, 60.0) == [None, "watch", "watch", None]
