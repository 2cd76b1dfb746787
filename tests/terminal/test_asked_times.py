"""Times that are asked for on the command line."""

from datetime import UTC, datetime, time

import pytest

from server.terminal.asked_times import asked_time, moment_of
from server.timeline.events import EventFault
from tests.planning.chains import chain

# From 18:50 to 20:37, by the clock of Chicago.
EVENING = chain((100.0, 8), motors_at="2026-01-14T18:50:00-06:00")
# From 23:00 to 00:47.
NIGHT = chain((100.0, 8), motors_at="2026-01-14T23:00:00-06:00")


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("19:05", time(19, 5)),
        ("19:05:30", time(19, 5, 30)),
        ("2026-01-14 19:05", datetime(2026, 1, 14, 19, 5)),  # noqa: DTZ001 - on the house's clock
        ("2026-01-14T19:05:30", datetime(2026, 1, 14, 19, 5, 30)),  # noqa: DTZ001 - as above
        ("2026-01-14T19:05:00-06:00", datetime(2026, 1, 15, 1, 5, tzinfo=UTC)),
    ],
)
def test_what_is_accepted(text: str, asked: datetime | time) -> None:
    """The house's clock, with or without its day, and RFC 3339."""
    assert asked_time(text) == asked


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("19:05", datetime(2026, 1, 15, 1, 5, tzinfo=UTC)),
        ("01:00", datetime(2026, 1, 15, 7, 0, tzinfo=UTC)),
        ("18:00", datetime(2026, 1, 15, 0, 0, tzinfo=UTC)),
        ("2026-01-14 19:05", datetime(2026, 1, 15, 1, 5, tzinfo=UTC)),
        ("2026-01-15T01:05:00Z", datetime(2026, 1, 15, 1, 5, tzinfo=UTC)),
    ],
)
def test_the_day_is_that_of_the_show(text: str, moment: datetime) -> None:
    """A time without a day is the one nearest to the show, before it, in it or after it."""
    assert moment_of(asked_time(text), EVENING) == moment


def test_a_show_over_midnight_has_two_days() -> None:
    """Before midnight is the day of the start, after it the next."""
    assert moment_of(time(23, 30), NIGHT) == datetime(2026, 1, 15, 5, 30, tzinfo=UTC)
    assert moment_of(time(0, 30), NIGHT) == datetime(2026, 1, 15, 6, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("7:05pm", ': write "19:05"'),
        ("19.05", ': write "19:05"'),
        ("yesterday", ""),
        ("2026-02-30 19:05", ""),
        ("0001-01-01 00:00", ""),
        ("2026-01-14", ""),
    ],
)
def test_what_is_refused_says_what_is_accepted(text: str, write: str) -> None:
    """A wrong time is one line, with what was meant where that can be told."""
    with pytest.raises(EventFault) as caught:
        asked_time(text)
    assert str(caught.value).startswith(f"--until: found '{text}'; accepted the house's clock as '19:05'")
    assert str(caught.value).endswith(f"or RFC 3339 with its offset{write}")
