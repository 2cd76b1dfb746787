"""Alarms of what tells of the show: a feed that is silent, a clock that jumped."""

import pytest

from tests.timeline.story import alarms_of, event, levels, plan_of


def test_feed_silent_is_raised_held_and_cleared() -> None:
    """Until that feed is back; another that is says nothing of it."""
    plan = plan_of(1)
    turns = ((5.0, "feed_down", "north"), (7.0, "feed_up", "south"), (9.0, "feed_up", "north"))
    events = [event(plan, at_s, kind, source=f"contact:{name}") for at_s, kind, name in turns]
    found = levels(plan, events, "feed_silent:contact:north", 4.9, 5.0, 8.9, 9.0)
    assert found == [None, "watch", "watch", None]


def test_clock_step_is_raised_held_and_cleared() -> None:
    """For a minute, though another feed comes up meanwhile."""
    plan = plan_of(1)
    step = event(plan, 5.0, "clock_step", seconds=-3.0, source="contact:clock")
    events = [step, event(plan, 30.0, "feed_up", source="contact:north")]
    assert levels(plan, events, "clock_step:chain", 4.9, 5.0, 64.9, 65.0) == [None, "note", "note", None]


def test_a_source_that_falls_silent_is_watched_until_it_is_back() -> None:
    """The subject is the source by its whole name."""
    plan = plan_of(1)
    down = event(plan, 5.0, "feed_down", source="contact:north/3", text="unplugged")
    up = event(plan, 9.0, "feed_up", source="contact:north/3")
    assert alarms_of(plan, [down, up], 20.0) == [
        "5 raised watch feed_silent:contact:north/3",
        "9 cleared watch feed_silent:contact:north/3",
    ]


@pytest.mark.parametrize(
    ("seconds", "told"), [(0.2, []), (-3.0, ["5 raised note clock_step:chain", "65 cleared note clock_step:chain"])]
)
def test_a_clock_that_jumped_is_noted_for_a_minute(seconds: float, told: list[str]) -> None:
    """By more than 0.2 s, either way."""
    plan = plan_of(1)
    assert alarms_of(plan, [event(plan, 5.0, "clock_step", seconds=seconds, source="contact:clock")], 100.0) == told
