"""Heads against advertised times, and the start that would meet them best."""

from itertools import pairwise

import pytest

from server.planning.findings import Finding
from server.planning.timeliness import BestStart, Head, best_start, heads_of, time_findings
from server.timeline.plan import Plan
from server.timeline.schedule import EARLY_S, schedule_from_plan
from tests.planning.chains import chain

# A path of 45.6 m takes 100 s; the head is at the first gate 40 s after the start at 18:50:00.
FEET = 45.6 / 0.3048


def two(first: str, second: str, timing: str = "", motors_at: str = "2026-03-14T18:50:00-05:00") -> Plan:
    stations = {0: f'advertised = "{first}"', 1: f'advertised = "{second}"'}
    return chain((FEET, 8), stations=stations, timing=timing, motors_at=motors_at)


def findings(plan: Plan) -> list[Finding]:
    return list(time_findings(plan, schedule_from_plan(plan)))


def heads(*late_s: float) -> tuple[Head, ...]:
    return tuple(Head(k, 0.0, late, "19:00") for k, late in enumerate(late_s))


@pytest.mark.parametrize(
    ("late_s", "shift_s", "worst"),
    [
        ((40.0, 20.0), -40, (0.0, 20.0)),  # nobody late, and no earlier than that needs
        ((40.0, -20.0), -40, (0.0, 60.0)),  # a minute apart: both can still be met
        ((90.0, 0.0), -75, (15.0, 75.0)),  # 90 s apart: 15 s past what guests bear, either way
        ((-200.0, -230.0), 200, (0.0, 30.0)),
        ((0.25,), -1, (0.0, 0.75)),  # to the whole second, and never late by what is left of it
        ((0.0,), 0, (0.0, 0.0)),
    ],
)
def test_the_best_start(late_s: tuple[float, ...], shift_s: int, worst: tuple[float, float]) -> None:
    """It has the least of the greatest miss, where a minute early is none."""
    best = best_start(heads(*late_s))
    assert best == BestStart(shift_s, *worst, max(0.0, *late_s), max(0.0, *(-late for late in late_s)))


@pytest.mark.parametrize("late_s", [(40.0, 20.0), (90.0, 0.0, 10.0), (-400.0, 300.0), (61.0, 0.5)])
def test_no_other_start_is_better(late_s: tuple[float, ...]) -> None:
    """Of all whole seconds around none has a smaller greatest miss."""

    def miss(shift_s: int) -> float:
        return max(max(late + shift_s, -(late + shift_s) - EARLY_S, 0.0) for late in late_s)

    best = best_start(heads(*late_s))
    assert best is not None
    assert miss(best.shift_s) <= min(miss(shift_s) for shift_s in range(-1000, 1000)) + 0.5


def test_nothing_advertised_is_nothing_missed() -> None:
    """A chain without advertised times has no best start, and no finding."""
    assert best_start(()) is None
    assert findings(chain((100.0, 8))) == []


def test_late_heads_are_told_with_the_start_that_mends_them() -> None:
    """Both houses of 18:50 and 18:52 are late, one start mends both, and it is said to the second."""
    first, second, start = findings(two("18:50", "18:52"))
    assert (first.code, first.level, first.about) == ("late_for_advertised", "warning", "House 11")
    assert first.text == "House 11: the head is at the gate at 18:50:40, 40.0 s after the advertised 18:50."
    assert second.text == "House 12: the head is at the gate at 18:52:20, 20.0 s after the advertised 18:52."
    assert second.cause == "The head leader takes 40 s to this gate's picture, and the paths before it 100 s."
    assert first.remedy == second.remedy == "Start the motors at 18:49:20."
    assert (start.code, start.level, start.about) == ("start_meets_best", "note", "the chain")
    assert start.text.startswith("Motors at 18:49:20, 40 s earlier,")
    assert start.cause == "The worst is then 20 s early; by the plan it is 40 s late."
    assert "motors_at = 2026-03-14T18:49:20-05:00" in start.remedy
    assert start.stations == ("st0", "st1")


def test_what_no_start_mends_is_advertised_otherwise() -> None:
    """Heads 100 s apart cannot both be on time for one minute: the later house is told a minute that it meets."""
    late, start = findings(two("18:51", "18:51"))
    assert late.about == "House 12"
    assert late.remedy == (
        "No start meets every time: advertise this house for 18:53, or change its place in the chain."
    )
    # By the plan 20 s early and 80 s late; balanced, one is as far past a minute early as the other is late.
    assert start.cause == "The worst is then 20 s late and 80 s early; by the plan it is 80 s late and 20 s early."


def test_an_early_head_is_a_note() -> None:
    """A house that is over a minute early is told, and that is no more than a note."""
    early = next(one for one in findings(two("18:51", "18:54")) if one.about == "House 12")
    assert (early.code, early.level) == ("early_for_advertised", "note")


def test_a_start_before_midnight_for_a_show_after_it() -> None:
    """Times on the next day are told with their date."""
    told = findings(two("00:00", "00:01", motors_at="2026-03-15T00:00:00-05:00"))
    assert told[0].remedy == "Start the motors at 23:58:40 on 2026-03-14."
    assert "motors_at = 2026-03-14T23:58:40-05:00" in told[-1].remedy


def test_moving_the_start_as_told_leaves_nothing_to_tell() -> None:
    """A plan that starts when it is told to has no late head, and its best start is its own."""
    moved = two("18:50", "18:52", motors_at="2026-03-14T18:49:20-05:00")
    assert findings(moved) == []
    best = best_start(heads_of(moved, schedule_from_plan(moved)))
    assert best is not None
    assert best.shift_s == 0


def test_heads_are_in_film_order() -> None:
    """Heads come as the film runs, each with its own lateness."""
    plan = two("18:50", "18:52")
    assert all(one.at_s < other.at_s for one, other in pairwise(heads_of(plan, schedule_from_plan(plan))))
