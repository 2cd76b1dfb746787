"""The next things to do, and by when."""

import pytest

from server.timeline.prompts import STAYS_S
from tests.timeline.story import event, lamps, live, plan_of, starts


def test_a_lamp_that_went_out_on_screen_is_to_be_struck_at_once() -> None:
    """Not by the close of a window that was kept: the time over counts from when the screen went dark."""
    plan = plan_of(2)
    events = [*starts(plan), *lamps(plan), event(plan, 600.0, "lamp_out", "a")]
    strike = next(prompt for prompt in live(plan, events, 603.0).view().prompts if prompt.kind == "strike")
    assert (strike.station, strike.from_s, strike.due_s) == ("a", 600.0, 600.0)


def test_a_lamp_that_was_never_lit_is_to_be_struck_in_its_window() -> None:
    """90 to 15 s before the picture, which is 40 s of leader away."""
    plan = plan_of(1)
    (strike,) = [prompt for prompt in live(plan, starts(plan), 5.0).view().prompts if prompt.kind == "strike"]
    assert (strike.from_s, strike.due_s) == pytest.approx((-50.0, 25.0))


def test_a_motor_is_to_be_started_when_the_others_are_and_not_before() -> None:
    """Whoever starts one at the first instant of its prompt starts it with the rest."""
    plan = plan_of(2)
    prompts = [prompt for prompt in live(plan, [], -3000.0).view().prompts if prompt.kind == "start"]
    assert [(prompt.from_s, prompt.due_s) for prompt in prompts] == [(0.0, 0.0)] * 2


def test_a_head_that_was_not_confirmed_is_not_asked_for_once_it_is_long_gone() -> None:
    """It went by over a minute ago: nobody can see it any more, and it hides what is next."""
    plan = plan_of(1)
    (confirm,) = [
        prompt
        for prompt in live(plan, [*starts(plan), *lamps(plan)], 60.0).view().prompts
        if prompt.kind == "confirm_head"
    ]
    assert confirm.until_s == confirm.due_s + STAYS_S
