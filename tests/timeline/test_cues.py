"""Foils that are late: one that is off the print is one fault, and over once a later one has gone by."""

from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.timeline.story import alarms_of, event, plan_of, starts

T1_S, T2_S, FILM_S = 40.0, 180.0, 320.0


def without_t2(plan: Plan, *, seen: dict[int, float] | None = None) -> list[Event]:
    """Every foil at every house but that of the second trailer, which only the houses of `seen` see, so much later."""
    events = starts(plan)
    for k, (station, ahead_s) in enumerate(zip(plan.stations, plan.ahead_s, strict=True)):
        for mark, x_s in (("t1", T1_S), ("film", FILM_S)):
            events.append(event(plan, x_s + ahead_s, "mark_pass", station.id, mark=mark))
        if k in (seen or {}):
            events.append(event(plan, T2_S + ahead_s + (seen or {})[k], "mark_pass", station.id, mark="t2"))
    return events


def overdue(plan: Plan, events: list[Event], until_s: float) -> list[str]:
    return [line for line in alarms_of(plan, events, until_s) if "mark_overdue" in line]


def test_a_foil_that_is_off_the_print_is_told_once() -> None:
    """What waits for the same foil is under it; once the next one has gone by, nobody waits any more, or begins to."""
    plan = plan_of(5, lamp="none", cue="contact")
    told = overdue(plan, without_t2(plan), 3000.0)
    assert [line.split(maxsplit=1)[1] for line in told if "raised" in line] == [
        "raised watch mark_overdue:a",
        "raised watch mark_overdue:b < mark_overdue:a",
        "raised watch mark_overdue:c < mark_overdue:a",
    ]
    assert {line.split()[0] for line in told if "cleared" in line} == {f"{FILM_S:g}"}


def test_a_foil_that_one_detector_misses_is_still_waited_for_elsewhere() -> None:
    """It was seen at the first gate, so it is on the print; at the third it does not come."""
    plan = plan_of(3, lamp="none", cue="contact")
    told = overdue(plan, without_t2(plan, seen={0: 0.0}), 500.0)
    assert [line.split(maxsplit=1)[1] for line in told if "raised" in line] == [
        "raised watch mark_overdue:b",
        "raised watch mark_overdue:c < mark_overdue:b",
    ]


def test_what_comes_late_is_no_longer_overdue() -> None:
    """It was the film, and it passed."""
    plan = plan_of(1, lamp="none", cue="contact")
    late = event(plan, T2_S + 15.0, "mark_pass", "a", mark="t2", sigma_s=4.0)
    told = overdue(plan, [*starts(plan), event(plan, T1_S, "mark_pass", "a", mark="t1"), late], 200.0)
    assert told[-1] == "195 cleared watch mark_overdue:a"
