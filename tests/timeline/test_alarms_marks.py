"""Alarms of marks: one that is overdue at its gate, and what was seen that does not fit."""

from tests.timeline.story import alarms_of, event, levels, plan_of, quiet, starts


def test_mark_overdue_is_raised_held_and_cleared() -> None:
    """From five seconds and three deviations after it was due to its pass; a lamp or a note is no pass."""
    plan = plan_of(1, cue="contact")
    passes = [event(plan, at_s, "mark_pass", "a", mark=mark) for at_s, mark in ((40.0, "t1"), (190.2, "t2"))]
    events = [*quiet(plan), *passes, event(plan, 188.0, "note", text="nothing yet")]
    found = levels(plan, events, "mark_overdue:a", 184.9, 186.0, 190.1, 190.2)
    assert found == [None, "watch", "watch", None]


def test_misfit_is_raised_held_and_cleared() -> None:
    """For a minute, though meanwhile a pass that fits has settled the matter."""
    plan = plan_of(1)
    wrong = event(plan, 120.0, "mark_pass", "a", mark="t2", source="tap")
    right = event(plan, 179.5, "mark_pass", "a", mark="t2")
    found = levels(plan, [*quiet(plan), wrong, right], "misfit:a", 119.7, 119.8, 179.7, 179.8)
    assert found == [None, "note", "note", None]


def test_a_cue_on_a_contact_that_does_not_come_is_overdue() -> None:
    """5 s and three deviations after its estimate; a later mark that passes settles it."""
    plan = plan_of(1, cue="contact")
    events = [*quiet(plan), event(plan, 40.0, "mark_pass", "a", mark="t1")]
    told = alarms_of(plan, events, 200.0)
    assert len(told) == 1
    assert told[0].endswith("raised watch mark_overdue:a")
    assert 185.0 < float(told[0].split()[0]) < 186.0
    passed = event(plan, 190.2, "mark_pass", "a", mark="t2")
    assert "190.2 cleared watch mark_overdue:a" in alarms_of(plan, [*events, passed])


def test_a_mark_that_does_not_come_from_a_silent_feed_follows_from_that() -> None:
    """It is one fault."""
    plan = plan_of(1, lamp="none", cue="contact")
    start = event(plan, 0.0, "motor_start", "a", source="contact:north/1")
    down = event(plan, 5.0, "feed_down", source="contact:north")
    told = alarms_of(plan, [start, down], 60.0)
    assert told[-1].endswith("raised watch mark_overdue:a < feed_silent:contact:north")


def test_a_leader_at_its_gate_when_threaded_is_not_awaited() -> None:
    """Its first frame never goes through the first gate."""
    plan = plan_of(1, lamp="none", cue="contact")
    cued = plan.model_copy(update={"print": (plan.print[0].model_copy(update={"cue": True}), *plan.print[1:])})
    assert alarms_of(cued, starts(cued), 30.0) == []


def test_a_pass_that_does_not_fit_is_noted_and_not_believed() -> None:
    """A wrong tap 60 s early moves nothing."""
    plan = plan_of(1)
    wrong = event(plan, 120.0, "mark_pass", "a", mark="t2", source="tap")
    told = alarms_of(plan, [*quiet(plan), wrong], 200.0)
    assert told == ["119.75 raised note misfit:a", "179.75 cleared note misfit:a"]


def test_no_motor_runs_three_times_too_fast() -> None:
    """Two hasty wrong taps agree on nothing that film does."""
    plan = plan_of(1, lamp="none")
    hasty = [event(plan, at_s, "mark_pass", "a", mark=m, source="tap") for at_s, m in ((60.0, "t2"), (100.0, "film"))]
    told = alarms_of(plan, [*starts(plan), *hasty], 101.0)
    assert [line.split(maxsplit=1)[1] for line in told] == [
        "raised note misfit:a",
        "cleared note misfit:a",
        "raised note misfit:a",
    ]
