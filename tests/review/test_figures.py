"""The alarms of a run counted as ISA-18.2 counts them (check values: ANSI/ISA-18.2-2016, 16.4, second hand)."""

from collections.abc import Sequence

import pytest

from server.review.account import Span
from server.review.alarm_spans import AlarmSpan
from server.review.figures import figures_of, figures_table, floods_of
from server.timeline.view import Level
from tests.timeline.story import plan_of

MINUTE_US = 60_000_000


def span(told_s: float, key: str = "slack_tight:a>b", level: Level = "watch", **more: object) -> AlarmSpan:
    """One alarm, told at an instant and over 5 s later."""
    kind, subject = key.split(":")
    told_us = round(told_s * 1e6)
    given = {
        "key": key,
        "kind": kind,
        "subject": subject,
        "level": level,
        "cause": None,
        "text": "",
        "todo": "",
        "since_us": told_us,
        "told_us": told_us,
        "alone_us": told_us,
        "act_us": None,
        "seen_us": None,
        "seen_by": None,
        "over_us": told_us + 5_000_000,
    }
    return AlarmSpan(**given | more)  # type: ignore[arg-type]


def minutes(*at: float) -> list[int]:
    return [round(one * MINUTE_US) for one in at]


def even(count: int, within_min: float, start_min: float = 0.0) -> list[int]:
    return minutes(*(start_min + n * within_min / count for n in range(count)))


@pytest.mark.parametrize(
    ("at_us", "floods"),
    [
        ([], []),
        (even(10, 9.0), []),
        (even(11, 9.9), [(minutes(9.0)[0], 11)]),
        (even(11, 12.0), []),
        # the eleventh comes when the first is ten minutes past: ten in ten minutes
        (minutes(*range(11)), []),
    ],
    ids=["none", "ten", "eleven", "eleven in twelve", "just not"],
)
def test_a_flood_begins_with_more_than_ten_in_ten_minutes(at_us: list[int], floods: list[tuple[int, int]]) -> None:
    """The eleventh alarm within ten minutes begins it."""
    found = floods_of(at_us, 10**12)
    assert [(flood.from_us, flood.alarms) for flood in found] == floods


def test_a_flood_ends_when_fewer_than_five_are_left() -> None:
    """It is over ten minutes after the fifth last alarm, or goes on to the end of the run."""
    at_us = minutes(*(n * 0.5 for n in range(12)))
    (flood,) = floods_of(at_us, 10**12)
    assert (flood.from_us, flood.to_us) == (minutes(5.0)[0], minutes(3.5 + 10.0)[0])
    (flood,) = floods_of(at_us, minutes(8.0)[0])
    assert flood.to_us == minutes(8.0)[0]


def test_alarms_that_go_on_are_the_same_flood_and_later_ones_another() -> None:
    """Between two floods there was a time with fewer than five in ten minutes."""
    burst = [n * 0.5 for n in range(12)]
    going_on = [*burst, *(6.0 + 1.9 * n for n in range(10))]
    assert [flood.alarms for flood in floods_of(minutes(*going_on), 10**12)] == [22]
    twice = [*burst, *(60.0 + one for one in burst)]
    assert [flood.alarms for flood in floods_of(minutes(*twice), 10**12)] == [12, 12]


@pytest.mark.parametrize(
    ("told_s", "times"), [((0, 20, 40), [3]), ((0, 30, 60), []), ((0, 20), []), ((0, 50, 100, 110, 120, 130), [6])]
)
def test_three_in_a_minute_are_chattering(told_s: Sequence[float], times: list[int]) -> None:
    """One alarm, not several, and within a minute."""
    figures = figures_of([span(one) for one in told_s], Span(0, 10**9))
    assert [one.times for one in figures.chattering] == times
    others = [span(one, f"slack_tight:{n}") for n, one in enumerate(told_s)]
    assert figures_of(others, Span(0, 10**9)).chattering == ()


def test_only_what_people_were_told_is_counted() -> None:
    """What was put under a first-out alarm was shown there, and is no alarm of its own."""
    under = [span(n, cause="motor_lost:a", alone_us=None) for n in range(20)]
    figures = figures_of([span(0.0, "motor_lost:a", "act"), *under], Span(0, 3600 * 10**6))
    assert (figures.told, figures.under_first_out, figures.per_hour, figures.floods) == (1, 20, 1.0, ())
    assert figures.levels == {"act": 1, "watch": 0, "note": 0}


def test_what_stood_and_what_was_seen_is_counted() -> None:
    """On for over a day is stale; seen is how many, and after how long in the middle."""
    day_s = 86_400.0
    spans = [
        span(0.0, over_us=None),
        span(1.0, over_us=round((2.0 + day_s) * 1e6), seen_us=11_000_000, seen_by="Ada"),
        span(2.0, seen_us=6_000_000, seen_by="Ada"),
    ]
    figures = figures_of(spans, Span(0, round((day_s + 10.0) * 1e6)))
    assert (figures.stale, figures.on_at_end, figures.seen, figures.seen_after_s) == (2, 1, 2, 7.0)


def test_what_chattered_is_named_as_people_say_it() -> None:
    """An alarm that came three times in a minute is named by its kind and its houses, with how often it came."""
    figures = figures_of([span(at_s) for at_s in (0, 20, 40)], Span(0, 10**9))
    rows = {row[0]: row for row in figures_table(figures, plan_of(2)).rows}
    assert rows["Which chattered"][2] == "slack tight, House 1 to 2 (3 times)"


def test_a_run_without_length_has_no_rate() -> None:
    """Nothing is divided by nothing."""
    figures = figures_of([], Span(0, 0))
    rows = {row[0]: row[1] for row in figures_table(figures, plan_of(2)).rows}
    assert (rows["Rate"], rows["Share of act"], rows["Alarms raised"]) == (None, None, 0)
