"""What is counted as it happens: a run's events, and how long the log takes."""

import asyncio
import logging
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from prometheus_client import CollectorRegistry, Counter, Histogram

from server.clock import Clock
from server.live import Hub, LiveRun, Refused, Taken
from server.live.parts import Log, Stored
from server.timeline.events import Event
from server.timeline.plan import Plan

_SECONDS: Final = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
_log = logging.getLogger(__name__)


class Counters:
    """The counters of one server, and the registry that they are in.

    `is_failing` is whether the last event could not be written down.
    """

    def __init__(self) -> None:
        self.is_failing = False
        self.registry = CollectorRegistry()
        self.write_s = Histogram(
            "festoon_log_write_seconds",
            "From when an event is handed to the log until it is on disk, waiting for others included.",
            buckets=_SECONDS,
            registry=self.registry,
        )
        self.failed_writes = Counter(
            "festoon_log_write_failures", "Events that could not be written down.", registry=self.registry
        )
        self.refused = Counter(
            "festoon_events_refused",
            "Events that a run refused; those with again may come again as they are.",
            ["run", "again"],
            registry=self.registry,
        )
        self.alarms = Counter("festoon_alarms", "Alarms that came on.", ["run", "level"], registry=self.registry)
        self.lag_s = Histogram(
            "festoon_loop_lag_seconds",
            "How much later than asked for the server did what was to be done each second.",
            buckets=_SECONDS,
            registry=self.registry,
        )


class TimedLog:
    """A run's log that counts how long each event takes."""

    def __init__(self, log: Log, counters: Counters) -> None:
        self._log = log
        self._counters = counters

    def events(self, run_id: str) -> Sequence[Stored]:
        """As `server.live.parts.Log`."""
        return self._log.events(run_id)

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]:
        """As `server.live.parts.Log`."""
        loop = asyncio.get_running_loop()
        begun_s = loop.time()
        written = self._log.append(run_id, event, arrived)
        written.add_done_callback(lambda done: self._count(done, loop.time() - begun_s))
        return written

    def _count(self, done: asyncio.Future[int], took_s: float) -> None:
        self._counters.is_failing = done.cancelled() or done.exception() is not None
        if self._counters.is_failing:
            self._counters.failed_writes.inc()
        else:
            self._counters.write_s.observe(took_s)


class CountedRun(LiveRun):
    """A live run that counts what it refuses, and logs each event with its answer."""

    def __init__(
        self, run_id: str, plan: Plan, clock: Clock, log: Log, hub: Hub, counters: Counters, *, demo: bool = False
    ) -> None:
        super().__init__(run_id, plan, clock, TimedLog(log, counters), hub, demo=demo)
        self._counters = counters

    async def take(self, event: Event) -> Taken | Refused:
        """Take one event as every run does."""
        answer = await super().take(event)
        said = {"run": self.run_id, "event": event.id, "kind": event.kind, "source": event.source}
        if isinstance(answer, Taken):
            feed = {"why": event.text} if event.kind == "feed_down" else {}
            _log.info("event taken", extra={**said, "station": event.station, "seq": answer.seq, **feed})
            return answer
        self._counters.refused.labels(self.run_id, str(answer.again).lower()).inc()
        _log.info("event refused", extra={**said, "reason": answer.reason, "again": answer.again})
        return answer
