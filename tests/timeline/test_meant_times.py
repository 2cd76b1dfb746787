"""What was meant by a time that is nearly right."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.timeline.meant_times import meant_clock, meant_duration, meant_instant


@pytest.mark.parametrize(
    ("found", "meant"),
    [
        ("7:05pm", '"19:05"'),
        ("7:05 PM", '"19:05"'),
        ("7.05 p.m.", '"19:05"'),
        ("7pm", '"19:00"'),
        ("12am", '"00:00"'),
        ("12:30 am", '"00:30"'),
        ("12:30pm", '"12:30"'),
        ("19.05", '"19:05"'),
        ("19h05", '"19:05"'),
        ("1905", '"19:05"'),
        ("19:05:30", '"19:05"'),
        (" 19:05 ", '"19:05"'),
        ("24:00", '"00:00"'),
        ("noon", '"12:00"'),
        ("Midnight", '"00:00"'),
        (time(19, 5), '"19:05"'),
        (1905, '"19:05"'),
        (19.05, '"19:05"'),
        ("7:05", '"07:05" in the morning, "19:05" in the evening'),
        ("07:05:00", '"07:05"'),
        ("12:60", None),
        ("24:30", None),
        ("25:00", None),
        ("13pm", None),
        ("0am", None),
        ("19", None),
        ("seven", None),
        ("", None),
        (5, None),
        (-1905, None),
        (True, None),
        pytest.param(10**5000, None, id="5001 digits"),
        (float("nan"), None),
        (None, None),
        (["19:05"], None),
    ],
)
def test_clocks(found: object, meant: str | None) -> None:
    """Half days, points, missing colons and TOML's own times are understood; what is ambiguous has both, or nothing."""
    assert meant_clock(found) == meant


@pytest.mark.parametrize(
    ("found", "meant"),
    [
        ("1h48", '"1:48:00"'),
        ("1 h 48 min 5 s", '"1:48:05"'),
        ("1 hour 48 minutes", '"1:48:00"'),
        ("1h 5s", '"1:00:05"'),
        ("148 min", '"2:28:00"'),
        ("2m20s", '"2:20"'),
        ("2m20", '"2:20"'),
        ("2'20\"", '"2:20"'),
        ("140 s", '"2:20"'),
        ("20 sec.", '"0:20"'),
        ("2:75", '"3:15"'),
        ("1:99:00", '"2:39:00"'),
        (time(1, 48, 5), '"1:48:05"'),
        (140, '"2:20" for seconds, "2:20:00" for minutes'),
        (2.5, '"0:02" for seconds, "2:30" for minutes'),
        ("0:00", None),
        ("0 min", None),
        ("140", None),
        ("a while", None),
        ("", None),
        (0, None),
        (False, None),
        pytest.param(10**5000, None, id="5001 digits"),
        (float("inf"), None),
        (None, None),
    ],
)
def test_durations(found: object, meant: str | None) -> None:
    """Units, too many seconds and bare numbers are understood; a text of digits alone could be anything."""
    assert meant_duration(found) == meant


@given(st.one_of(st.text(), st.integers(), st.floats(), st.booleans(), st.none(), st.times()))
def test_whatever_is_found_it_is_no_error(found: object) -> None:
    """Any value gives texts in quotes, or nothing."""
    for meant in (meant_clock(found), meant_duration(found)):
        assert meant is None or meant.startswith('"')


@pytest.mark.parametrize(
    ("found", "meant"),
    [
        ("2026-03-14T18:50:00-05:00", "2026-03-14T18:50:00-05:00"),
        ("2026-03-14 18:50", "2026-03-14T18:50:00-06:00"),
        (" 2026-03-01T18:50 ", "2026-03-01T18:50:00-07:00"),
        (datetime(2026, 3, 14, 18, 50), "2026-03-14T18:50:00-06:00"),  # noqa: DTZ001 - as TOML has it
        (datetime(26, 3, 14, 18, 50, tzinfo=UTC), None),
        (date(2026, 3, 14), None),
        ("2026-03-14", None),
        ("tonight: ten to seven", None),
        ("18:50", None),
        (1850, None),
        (None, None),
    ],
)
def test_the_instant_that_was_meant(found: object, meant: str | None) -> None:
    """Quotes go, and what has no offset is by the house's clock: summer time in Denver begins on 8 March 2026."""
    assert meant_instant(found, ZoneInfo("America/Denver"), (1900, 2199)) == meant


def test_without_a_time_zone_nobody_knows_which_offset_was_meant() -> None:
    """The plan names none, and no guess is made."""
    assert meant_instant("2026-03-14 18:50", None, (1900, 2199)) is None
