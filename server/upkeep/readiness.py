"""Whether a server can do its work: whether its log can be written."""

import asyncio
import logging
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Final

from server.upkeep.counting import Counters

FRESH_S: Final = 2.0
"""For so long an answer holds: anybody may ask, and a disk is not theirs to keep busy. Chosen."""

PATIENCE_S: Final = 2.0
"""A disk that takes longer cannot be written, as far as a show goes. Chosen."""

LEAST_BYTES: Final = 1_000_000
"""Free on the disk of the log. What is tried is small, and may go where an event would not. Chosen."""

Try = Callable[[], asyncio.Future[int]]
_log = logging.getLogger(__name__)


class Readiness:
    """Tries the log when it is asked, once for all who ask; `faults` are what it raises where it cannot be written.

    `folder` is where the log is, and `counters` say how its last event fared.
    """

    def __init__(self, try_log: Try, faults: tuple[type[Exception], ...], folder: Path, counters: Counters) -> None:
        self._try_log = try_log
        self._faults: tuple[type[Exception], ...] = (*faults, OSError)
        self._folder = folder
        self._counters = counters
        self._trying: asyncio.Task[bool] | None = None
        self._tried_s = 0.0
        self._was_ready = True

    async def __call__(self) -> bool:
        """Whether an event could be written down now."""
        now_s = asyncio.get_running_loop().time()
        if self._trying is None or (self._trying.done() and now_s - self._tried_s > FRESH_S):
            self._tried_s = now_s
            self._trying = asyncio.create_task(self._try())
        done, _ = await asyncio.wait((self._trying,), timeout=PATIENCE_S)
        return self._told(bool(done) and self._trying.result() and not self._counters.is_failing)

    async def _try(self) -> bool:
        try:
            if shutil.disk_usage(self._folder).free < LEAST_BYTES:
                _log.warning("the log cannot be written", extra={"reason": f"the disk of {self._folder} is full"})
                return False
            await self._try_log()
        except self._faults as fault:
            _log.warning("the log cannot be written", extra={"reason": str(fault)})
            return False
        return True

    def _told(self, is_ready: bool) -> bool:
        if is_ready is not self._was_ready:
            self._was_ready = is_ready
            _log.warning("ready again" if is_ready else "not ready")
        return is_ready
