"""A live run that somebody listens to."""

from server.live import HeardRun, Hub, Refused, Taken
from server.timeline.events import Event
from tests.live.fakes import PLAN, HeldLog, ManualClock, Timers, tap


async def test_what_counts_is_heard_and_what_is_refused_is_not() -> None:
    """Whoever listens hears an event after it is on disk, and nothing of one that is not in the log."""
    run = HeardRun("r", PLAN, ManualClock(), HeldLog(), Hub(), call_later=Timers().call_later)
    heard: list[Event] = []
    run.start()
    assert isinstance(await run.take(tap("before", 0.0)), Taken)
    run.hear = heard.append
    assert isinstance(await run.take(tap("good", 0.0)), Taken)
    assert isinstance(await run.take(tap("bad", 9999.0)), Refused)
    run.stop()
    assert [event.id for event in heard] == ["good"]
