"""A clock that was set is not film: what its feed tells is dated otherwise from then on, and no link holds more."""

import pytest

from server.timeline.events import Event
from server.timeline.feeds import Feed
from tests.adapters.shows import chain_plan
from tests.timeline.story import event, played, starts

PLAN = chain_plan(6, minutes=120)
STEP_AT_S = 2500.0


def feed_of(station: int, houses_a_feed: int) -> str:
    """The box that tells of a station: one for so many houses."""
    return f"contact:box{station // houses_a_feed}"


def passes(feeds: dict[str, float], houses_a_feed: int) -> list[Event]:
    """Every cue at every gate; from a moment on those that a feed tells of are dated late by `feeds[feed]`."""
    found = []
    for k, station in enumerate(PLAN.stations):
        for n in range(10):
            source, at_s = feed_of(k, houses_a_feed), 40.0 + PLAN.ahead_s[k] + 600.0 * n
            dated_s = at_s + (feeds.get(source, 0.0) if at_s >= STEP_AT_S else 0.0)
            found.append(event(PLAN, dated_s, "mark_pass", station.id, mark=f"r{n}", source=f"{source}/{k}"))
    return found


@pytest.mark.parametrize("late_s", [-1.5, 0.6, 1.5, 4.0])
@pytest.mark.parametrize("box", [0, 1])
def test_a_clock_that_was_set_is_named_and_is_no_slack(box: int, late_s: float) -> None:
    """Two houses of one box and then one of the other settle it; no act comes of it, and slack stays as it was."""
    told, fold = played(PLAN, [*starts(PLAN), *passes({f"contact:box{box}": late_s}, 3)])
    off = f"dated {abs(late_s):.1f} s {'late' if late_s > 0.0 else 'early'}"
    assert not [line for line in told if " act " in line and ("slack" in line or "reserve" in line)]
    assert fold.evidence.outlook.slack == pytest.approx([0.0] * 5, abs=0.1)
    ((number, found_s, _),) = (clock for clock in fold.evidence.estimate.clocks() if abs(clock[1]) > 0.2)
    assert fold.evidence.feeds[number] == Feed(f"contact:box{box}", frozenset({3 * box, 3 * box + 1, 3 * box + 2}))
    assert found_s == pytest.approx(late_s, abs=0.1)
    assert off in fold.evidence.stations[3 * box].misfit_text
    assert [line for line in told if f"raised note misfit:s{3 * box}" in line]


def test_the_only_clock_is_told_from_no_motor() -> None:
    """Where one box tells of all houses its clock and all motors look alike: neither is slack; no clock is named."""
    told, fold = played(PLAN, [*starts(PLAN), *passes({"contact:box0": 1.5}, 6)])
    assert fold.evidence.outlook.slack == pytest.approx([0.0] * 5, abs=0.1)
    assert not list(fold.evidence.estimate.clocks())
    assert not [line for line in told if "dated" in line]


def test_a_box_of_one_house_is_told_from_no_motor() -> None:
    """A second of film that a motor lost is not put down to the clock of a box that tells of that house alone."""
    told, fold = played(PLAN, [*starts(PLAN), *passes({"contact:box2": 1.0}, 1)])
    assert fold.evidence.outlook.slack[1:3] == pytest.approx([1.0, -1.0], abs=0.1)
    assert not [line for line in told if "dated" in line]


def test_all_motors_that_change_just_before_a_house_is_looked_at_are_all_motors() -> None:
    """The chain may have changed since the latest pass that fitted, not only since a moment minutes before it."""
    since_s, rate = 2450.0, 0.0036
    seen = []
    for k, station in enumerate(PLAN.stations):
        for n in range(10):
            planned_s = 40.0 + PLAN.ahead_s[k] + 600.0 * n
            at_s = planned_s - max(planned_s - since_s, 0.0) * rate / (1.0 + rate)
            seen.append(event(PLAN, at_s, "mark_pass", station.id, mark=f"r{n}"))
    told, fold = played(PLAN, [*starts(PLAN), *seen])
    assert fold.evidence.outlook.slack == pytest.approx([0.0] * 5, abs=0.1)
    assert not [line for line in told if " act " in line and ("slack" in line or "reserve" in line)]
