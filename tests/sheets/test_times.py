"""The clock on paper: on the side on which nobody is late, with its day where that is another."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from server.sheets.times import clock_min, clock_s, clocks_s, length_text, second_down, second_up, wait_text
from server.timeline.schedule import house_clock
from tests.planning.chains import chain

LATE = chain(motors_at="2026-07-17T23:58:30-05:00")


def test_a_time_past_midnight_has_its_day() -> None:
    """Before midnight there is no day; after it there is; in a row it is said once."""
    assert clock_s(LATE, 89) == "23:59:59"
    assert clock_s(LATE, 90) == "00:00:00 on Sat 18 Jul"
    assert clock_min(LATE, 89.0) == "23:59"
    assert clock_min(LATE, 89.0, up=True) == "00:00 on Sat 18 Jul"
    assert list(clocks_s(LATE, [0, 90, 91])) == ["23:58:30", "00:00:00 on Sat 18 Jul", "00:00:01"]


def test_the_hour_that_comes_twice_is_the_house_clocks() -> None:
    """On the night that the clock goes back (2026-11-01 in Chicago, tz database) paper goes by the wall clock."""
    plan = chain(motors_at="2026-11-01T01:30:00-05:00")
    assert clock_s(plan, 1800) == "01:00:00"
    assert clock_s(plan, 5400) == "02:00:00"


@given(st.floats(-1e5, 1e5))
def test_minutes_are_rounded_to_the_side_that_was_asked_for(seconds: float) -> None:
    """Down is never after, up never before, and neither is a minute or more off."""
    down, up = (clock_min(LATE, seconds, up=way) for way in (False, True))
    exact = house_clock(LATE, seconds)
    minute = exact.replace(second=0, microsecond=0)
    near = {f"{minute + timedelta(minutes=k):%H:%M}" for k in (0, 1)}
    assert {down[:5], up[:5]} <= near | {f"{minute - timedelta(minutes=1):%H:%M}"}
    assert second_down(seconds) <= seconds + 1e-5
    assert second_up(seconds) >= seconds - 1e-5
    assert 0 <= second_up(seconds) - second_down(seconds) <= 1


def test_lengths_are_said_in_short() -> None:
    """Running times and waits."""
    assert [length_text(s) for s in (59.6, 140, 6485)] == ["1:00", "2:20", "1:48:05"]
    assert [wait_text(s) for s in (660, 6600)] == ["11 min", "1 h 50 min"]
