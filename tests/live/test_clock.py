"""The clock, with both of its sources moved by hand."""

from datetime import timedelta

import pytest

from server.clock import Clock
from tests.live.fakes import ZERO, ManualClock


def test_starts_at_the_wall_clock() -> None:
    """A clock without a start shows what the wall clock showed when it was made."""
    assert ManualClock(at_s=12.5).now() == ZERO + timedelta(seconds=12.5)


def test_a_jump_of_the_wall_clock_moves_nothing() -> None:
    """Time goes on from the steady source, whatever the wall clock is set to."""
    clock = ManualClock()
    clock.pass_s(10.0)
    clock.wall_s += 3600.0
    assert clock.now_us(ZERO) == 10_000_000


def test_a_jump_is_told_once() -> None:
    """`step_s` is how far the wall clock was set since it was last asked."""
    clock = ManualClock()
    clock.pass_s(5.0)
    assert clock.step_s() == pytest.approx(0.0, abs=1e-6)
    clock.wall_s -= 1.5
    assert clock.step_s() == pytest.approx(-1.5, abs=1e-6)
    assert clock.step_s() == pytest.approx(0.0, abs=1e-6)


def test_a_demo_runs_faster_and_knows_no_wall_clock() -> None:
    """At a rate of 20, 3 s of life are a minute of run, and a set wall clock is nothing to it."""
    clock = ManualClock(at_s=0.0, rate=20.0)
    clock.pass_s(3.0)
    clock.wall_s += 99.0
    assert clock.now_us(ZERO) == 60_000_000
    assert clock.seconds_until(80_000_000, ZERO) == pytest.approx(1.0)
    assert clock.step_s() == 0.0


def test_what_is_past_is_below_zero() -> None:
    """`seconds_until` a time that has been is negative."""
    clock = ManualClock(at_s=2.0)
    assert clock.seconds_until(500_000, ZERO) == pytest.approx(-1.5)


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan")])
def test_a_clock_that_does_not_run_forward_is_our_mistake(rate: float) -> None:
    """A rate of 0, below 0 or of no number raises at once."""
    with pytest.raises(ValueError, match="rate above 0"):
        Clock(rate=rate)


def test_the_real_sources_agree() -> None:
    """Made from the system's own sources, the clock shows the wall's time and has seen no step."""
    clock = Clock()
    assert clock.now() <= Clock().now() + timedelta(seconds=0.1)
    assert abs(clock.step_s()) < 0.1
