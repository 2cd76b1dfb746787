"""Looks at a server's runs once a second: how late it comes to that itself, and which alarms are on."""

import asyncio
import logging
from collections.abc import Iterable
from typing import Final

from server.live import LiveRun
from server.timeline.view import Level
from server.upkeep.counting import Counters

EVERY_S: Final = 1.0
"""Chosen: a show's alarms stand for longer."""

_log = logging.getLogger(__name__)


class AlarmLines:
    """Counts and logs the alarms of runs as they come on and go off."""

    def __init__(self, runs: Iterable[LiveRun], counters: Counters) -> None:
        self._runs = list(runs)
        self._counters = counters
        self._on: dict[tuple[str, str], Level] = {}

    def look(self) -> None:
        """Tell what is another since the last look."""
        on = {
            (run.run_id, alarm.key): alarm.level
            for run in self._runs
            for alarm in run.view.alarms
            if alarm.state != "returned"
        }
        for (run_id, key), level in on.items():
            if self._on.get((run_id, key)) != level:
                self._counters.alarms.labels(run_id, level).inc()
                _log.info("alarm on", extra={"run": run_id, "alarm": key, "alarm_level": level})
        for run_id, key in self._on.keys() - on.keys():
            _log.info("alarm off", extra={"run": run_id, "alarm": key})
        self._on = on


async def look_on(alarms: AlarmLines, counters: Counters) -> None:
    """Look until it is cancelled."""
    loop = asyncio.get_running_loop()
    while True:
        begun_s = loop.time()
        await asyncio.sleep(EVERY_S)
        counters.lag_s.observe(max(0.0, loop.time() - begun_s - EVERY_S))
        alarms.look()
