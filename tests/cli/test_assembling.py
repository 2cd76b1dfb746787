"""What a run is called, and the demonstration's plan moved to now."""

from datetime import timedelta

import pytest

from server.demonstration import LEAD_S, plan_for_fingers, plan_moved_to, text_of
from server.plan_runs import run_name
from server.playing import demo_plan
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import advertised_s, schedule_from_plan
from tests.live.fakes import PLAN


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Two Lanterns", "two-lanterns"),
        ("Nobody's Orchard", "nobodys-orchard"),
        ("Été à la mer!", "ete-a-la-mer"),
        ("../../etc", "etc"),
        ("灯笼", "run"),
        ("x" * 500, "x" * 60),
    ],
)
def test_a_run_is_called_by_its_title_and_start(title: str, name: str) -> None:
    """The name is part of addresses, so it is plain letters, and two shows of one day have two."""
    plan = Plan.model_validate({key: getattr(PLAN, key) for key in Plan.model_fields} | {"title": title})
    assert run_name(plan) == f"{name}-2026-03-14-2350"


@pytest.mark.parametrize("later", [timedelta(0), timedelta(days=-400, seconds=17), timedelta(hours=5, seconds=59)])
def test_the_demonstration_begins_soon_with_its_houses_on_time(later: timedelta) -> None:
    """Whenever it is started: the motors within the lead and a minute, and each house as long after them as planned."""
    plan = demo_plan().plan
    now = plan.zero + later
    moved = plan_moved_to(plan, now)
    assert timedelta(seconds=LEAD_S) <= moved.zero - now < timedelta(seconds=LEAD_S + 60.0)
    assert [_after_motors_s(moved, k) for k in range(len(plan.stations))] == [
        _after_motors_s(plan, k) for k in range(len(plan.stations))
    ]
    assert schedule_from_plan(moved).stations == schedule_from_plan(plan).stations


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_what_is_written_down_is_the_plan_that_is_shown(rate: float) -> None:
    """The text that a moved show keeps in the log is the plan that its desks had: a debrief has the same times."""
    file = demo_plan()
    moved = plan_for_fingers(plan_moved_to(file.plan, file.plan.zero + timedelta(days=200, hours=3, seconds=5)), rate)
    text = text_of(moved, file.text)
    assert parse_plan(text, "moved") == moved
    assert text.count("#") == file.text.count("#")


def _after_motors_s(plan: Plan, k: int) -> float | None:
    advertised = plan.stations[k].advertised
    return None if advertised is None else advertised_s(plan, advertised) % 86_400.0


@pytest.mark.parametrize("rate", [0.5, 1.0, 4.0])
def test_a_finger_is_as_many_times_as_late_as_a_show_is_fast(rate: float) -> None:
    """What the plan says of people is stretched; the film, the lamps and the contacts are as they were."""
    faster = plan_for_fingers(PLAN, rate)
    for name in ("tap_lag_s", "tap_sigma_s", "start_grace_s"):
        assert getattr(faster.timing, name) == pytest.approx(rate * getattr(PLAN.timing, name))
    assert faster.timing.contact_sigma_s == PLAN.timing.contact_sigma_s
    assert schedule_from_plan(faster).stations == schedule_from_plan(PLAN).stations
