"""What the desks told of a run, in the order in which they could know it: every alarm, and what became of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from server.timeline.condition import RANK
from server.timeline.engine import Engine
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event
from server.timeline.plan import Plan
from server.timeline.view import AlarmView, Level


@dataclass
class Telling:
    """One alarm from when the desks told it; times in seconds after `motors_at`.

    `level` is the worst it came to. `told_s` is when it was on a desk, which is after `since_s` where an event came
    late. `cause` is the key of the alarm that it was put under afterwards. `acked_s` and `over_s` are None where nobody
    acknowledged it and where it is still on.
    """

    key: str
    kind: str
    subject: str
    level: Level
    text: str
    since_s: float
    told_s: float
    acked_s: float | None = None
    cause: str | None = None
    over_s: float | None = None


def tellings(plan: Plan, arrived: Iterable[tuple[int, Event]], until_us: int) -> list[Telling]:
    """Every alarm that was told by `until_us`, by time.

    `arrived` are the events of a run in the order in which they were taken, each with when that was, in microseconds
    after `plan.zero`. What was never told by itself, because it followed from another alarm, is left out.
    """
    open_: dict[str, Telling] = {}
    found: list[Telling] = []
    for alarms, at_us in _looks(plan, arrived, until_us):
        at_s = at_us / US_PER_S
        on = {alarm.key: alarm for alarm in alarms if alarm.state != "returned"}
        for key in [key for key in open_ if key not in on]:
            open_.pop(key).over_s = at_s
        for key, alarm in on.items():
            if key not in open_ and alarm.told:
                open_[key] = _begun(alarm, at_s)
                found.append(open_[key])
            if key in open_:
                _note(open_[key], alarm, at_s)
    return found


def _looks(
    plan: Plan, arrived: Iterable[tuple[int, Event]], until_us: int
) -> Iterator[tuple[tuple[AlarmView, ...], int]]:
    """The alarms after every event, and whenever time alone changed anything."""
    engine = Engine(plan)
    for at_us, event in arrived:
        yield from _waits(engine, at_us)
        if engine.refusal(event) is None:
            engine.take(event, at_us)
            yield engine.view().alarms, at_us
    yield from _waits(engine, until_us)


def _waits(engine: Engine, until_us: int) -> Iterator[tuple[tuple[AlarmView, ...], int]]:
    while (wake_us := engine.next_wake_us()) is not None and wake_us < until_us:
        if engine.advance(wake_us):
            yield engine.view().alarms, wake_us
    if engine.advance(until_us):
        yield engine.view().alarms, until_us


def _begun(alarm: AlarmView, at_s: float) -> Telling:
    return Telling(alarm.key, alarm.kind, alarm.subject, alarm.level, alarm.text, alarm.since_s, at_s)


def _note(telling: Telling, alarm: AlarmView, at_s: float) -> None:
    if RANK[alarm.level] > RANK[telling.level]:
        telling.level, telling.text = alarm.level, alarm.text
    telling.cause = alarm.cause or telling.cause
    if alarm.acked_by is not None and telling.acked_s is None:
        telling.acked_s = at_s
