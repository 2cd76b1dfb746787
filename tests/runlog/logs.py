"""What the tests of the log share."""

from datetime import UTC, datetime, timedelta

from server.runlog import RunLog
from server.timeline.events import Event

ZERO = datetime(2026, 3, 14, 23, 50, tzinfo=UTC)


def event(name: str, at_s: float = 0.0, text: str = "x") -> Event:
    return Event(id=name, t=ZERO + timedelta(seconds=at_s), kind="note", source="tap:pad", text=text, by="Ida")


def add_run(log: RunLog, run_id: str = "r1") -> RunLog:
    """The same log, with one more run."""
    log.create_run(run_id, "title = 'x'", "x.plan.toml", ZERO)
    return log
