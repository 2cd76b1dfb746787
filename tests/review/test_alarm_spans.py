"""The alarms of a run as spans: when each could first be known, and what became of it."""

import pytest

from server.review.account import Account, Observed
from server.review.alarm_spans import AlarmSpan
from server.review.walk import Walk
from server.timeline.events import Event
from tests.timeline.story import event, plan_of, starts

PLAN = plan_of(2)


def us(seconds: float) -> int:
    return round(seconds * 1e6)


def spans(events: list[Event], late_s: float = 0.0) -> list[AlarmSpan]:
    """The alarms of the first 200 s; the last of the events came in `late_s` after it happened."""
    arrived = [(one.t - PLAN.zero).total_seconds() for one in events]
    arrived[-1] += late_s
    observed = [Observed(n, one, us(at_s)) for n, (one, at_s) in enumerate(zip(events, arrived, strict=True), 1)]
    return Walk(Account(PLAN, observed, us(200.0)), "then").spans


def told(events: list[Event], kind: str, late_s: float = 0.0) -> list[AlarmSpan]:
    return [span for span in spans(events, late_s) if span.kind == kind]


def test_an_alarm_is_told_acknowledged_and_over() -> None:
    """A motor that stops is told once its grace is over, which is when a desk can know it."""
    events = [
        *starts(PLAN),
        event(PLAN, 100.0, "motor_stop", "b"),
        event(PLAN, 104.0, "ack", alarm="motor_lost:b"),
        event(PLAN, 110.0, "motor_start", "b"),
    ]
    (span,) = told(events, "motor_lost")
    assert span.alone_us == pytest.approx(us(100.5), abs=us(0.01))
    assert (span.since_us, span.seen_us, span.over_us) == (us(100.0), us(104.0), us(110.0))


def test_whoever_saw_to_what_a_house_reported_had_seen_it() -> None:
    """One touch is enough; a report that was taken back before that was seen by nobody."""
    report = event(PLAN, 20.0, "report", "b", source="tap", what="no_sound")
    over = event(PLAN, 30.0, "report_over", "b", source="tap", by="Bo")
    back = event(PLAN, 30.0, "retract", source="tap", retracts=report.id)
    told_of = [told([*starts(PLAN), report, then], "house_report")[0] for then in (over, back)]
    assert [(span.seen_us, span.seen_by) for span in told_of] == [(told_of[0].over_us, "Bo"), (None, None)]


def test_an_event_that_came_late_was_told_late() -> None:
    """Nobody can have acted on what was not on any desk yet."""
    (span,) = told([*starts(PLAN), event(PLAN, 100.0, "motor_stop", "b")], "motor_lost", 30.0)
    assert (span.since_us, span.told_us, span.over_us) == (us(100.0), us(130.0), None)


def test_what_time_alone_brings_is_told_at_its_time() -> None:
    """A strike window closes without any event: 15 s before the picture, which is 40 s of leader away."""
    first, _ = told(starts(PLAN), "strike_missed")
    assert first.alone_us == pytest.approx(us(25.0), abs=us(0.1))
    assert (first.seen_us, first.cause) == (None, None)


def test_what_follows_from_another_alarm_is_not_told_beside_it() -> None:
    """The links of a lost motor run out under it; that the reserve is spent is told all the same."""
    alone = {
        span.key: span.alone_us is not None for span in spans([*starts(PLAN), event(PLAN, 100.0, "motor_stop", "b")])
    }
    assert [key for key, by_itself in alone.items() if by_itself] == [
        "strike_missed:a",
        "strike_missed:b",
        "motor_lost:b",
        "reserve_spent:a>b",
    ]
    assert not alone["slack_loose:a>b"]
    assert not alone["dark_gate:a"]
