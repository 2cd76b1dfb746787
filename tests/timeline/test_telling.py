"""What the desks told of a run: when each alarm could first be known, and what became of it."""

from datetime import timedelta

import pytest

from server.timeline.events import Event, EventKind
from server.timeline.plan import parse_plan
from server.timeline.telling import Telling, tellings

PLAN = parse_plan(
    """
    format = "festoon-plan/1"
    title = "Two houses"
    [timing]
    motors_at = 2026-03-14T23:50:00Z
    [[print]]
    id = "leader"
    kind = "leader"
    feet = 60
    [[print]]
    id = "feature"
    kind = "feature"
    duration = "30:00"
    [[stations]]
    id = "a"
    house = "1"
    [[stations]]
    id = "b"
    house = "2"
    path_ft = 100
    """,
    "two.plan.toml",
)


def at(t_s: float, kind: EventKind, arrived_s: float | None = None, **keys: str) -> tuple[int, Event]:
    event = Event.model_validate(
        {"id": f"{kind}{t_s}{keys}", "t": PLAN.zero + timedelta(seconds=t_s), "kind": kind, "source": "contact", **keys}
    )
    return round((t_s if arrived_s is None else arrived_s) * 1e6), event


def started() -> list[tuple[int, Event]]:
    return [at(0.0, "motor_start", station="a"), at(0.0, "motor_start", station="b")]


def told(events: list[tuple[int, Event]], until_s: float, kind: str) -> list[Telling]:
    return [telling for telling in tellings(PLAN, events, round(until_s * 1e6)) if telling.kind == kind]


def test_an_alarm_is_told_acknowledged_and_over() -> None:
    """A motor that stops is told once its grace is over, which is when a desk can know it."""
    events = [
        *started(),
        at(100.0, "motor_stop", station="b"),
        at(104.0, "ack", alarm="motor_lost:b"),
        at(110.0, "motor_start", station="b"),
    ]
    (telling,) = told(events, 200.0, "motor_lost")
    assert telling.told_s == pytest.approx(100.5, abs=0.01)
    assert (telling.since_s, telling.acked_s, telling.over_s) == (100.0, 104.0, 110.0)


def test_an_event_that_came_late_was_told_late() -> None:
    """Nobody can have acted on what was not on any desk yet."""
    (telling,) = told([*started(), at(100.0, "motor_stop", 130.0, station="b")], 200.0, "motor_lost")
    assert (telling.since_s, telling.told_s, telling.over_s) == (100.0, 130.0, None)


def test_what_time_alone_brings_is_told_at_its_time() -> None:
    """A strike window closes without any event: 15 s before the picture, which is 40 s of leader away."""
    first, _ = told(started(), 200.0, "strike_missed")
    assert first.told_s == pytest.approx(25.0, abs=0.1)
    assert (first.acked_s, first.cause) == (None, None)


def test_what_follows_from_another_alarm_is_not_told_beside_it() -> None:
    """The links of a lost motor run out under it."""
    events = [*started(), at(100.0, "motor_stop", station="b")]
    keys = [telling.key for telling in tellings(PLAN, events, 200_000_000)]
    assert keys == ["strike_missed:a", "strike_missed:b", "motor_lost:b"]
