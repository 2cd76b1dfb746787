"""Goes through runs before anybody asks: what the library counts of them, and their stories, which the log keeps."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping
from typing import Final

from server.desk.first_looks import Stories
from server.desk.records import Past, Records
from server.live import LiveRun
from server.review.library import (
    LibraryLine,
    Live,
    is_uncounted,
    lines_of,
    trouble_of,
)
from server.review.story import state_of

AT_ONCE: Final = 3
"""Runs gone through before others are asked for again, some seconds each for a long show. Chosen."""

LOOK_S: Final = 10.0
"""How often is looked whether a show is over: what is asked of it right then waits a few seconds. Chosen."""

_log = logging.getLogger(__name__)


class Backlog:
    """The runs yet to be gone through, a few at a time and never twice at once; the log keeps what is found."""

    def __init__(self, past: Past) -> None:
        self._records = Records(past.log)
        self._log = past.log
        self._apart = past.apart
        self._faults = past.faults
        self._stories = Stories(self._records, past)
        self._busy = False
        self._failed: set[str] = set()

    def lines(self, runs: Mapping[str, LiveRun]) -> list[LibraryLine]:
        """Every run of the log, the newest show first; `runs` are the live ones. Call it in a thread."""
        return lines_of(self._log, {id_: live_of(run) for id_, run in runs.items()})

    def is_due(self, line: LibraryLine) -> bool:
        """Whether a line's trouble is yet to be counted, or its story to be made, and can be."""
        return is_uncounted(line) and line.run not in self._failed

    async def go_on(self, lines: Iterable[LibraryLine]) -> None:
        """Go through a few of the runs of which something is missing; nothing where that is going on already."""
        await self.tell([line.run for line in lines if self.is_due(line)][:AT_ONCE])

    async def tell(self, run_ids: Iterable[str]) -> None:
        """Go through these runs, all that is missing of them; nothing where that is going on already."""
        if self._busy:
            return
        self._busy = True
        wanted = [run_id for run_id in run_ids if run_id not in self._failed]
        try:
            for run_id in wanted:
                await self._guarded(run_id, self._keep_trouble)
            for run_id in wanted:
                if run_id not in self._failed:
                    await self._guarded(run_id, self._keep_story)
        finally:
            self._busy = False

    async def look_after(self, runs: Mapping[str, LiveRun], look_s: float = LOOK_S) -> None:
        """Go through each live run as soon as it is over, and through the others while no film runs; without end."""
        told: dict[str, int] = {}
        is_all_told = False
        while True:
            await asyncio.sleep(look_s)
            states = {run_id: live_of(run).state for run_id, run in runs.items()}
            is_quiet = not {"running", "standing"} & set(states.values())
            try:
                await self._tell_over([run_id for run_id, state in states.items() if state == "over"], told)
                if is_quiet and not is_all_told:
                    lines = await asyncio.to_thread(self.lines, runs)
                    await self.go_on(lines)
                    is_all_told = not any(map(self.is_due, lines))
            except self._faults as fault:  # a log that cannot be read now is looked at again
                _log.warning("runs are not gone through: %s", fault)

    async def _tell_over(self, run_ids: Iterable[str], told: dict[str, int]) -> None:
        """Go through those runs of which there is more than `told` says, by run."""
        for run_id in run_ids:
            events = (await asyncio.to_thread(self._log.extent, run_id)).events
            if told.get(run_id) != events and not self._busy:
                told[run_id] = events
                await self.tell([run_id])

    async def _guarded(self, run_id: str, work: Callable[[str], Awaitable[None]]) -> None:
        try:
            await work(run_id)
        except Exception:  # noqa: BLE001 - one run that cannot be read must not keep the others from being counted
            self._failed.add(run_id)
            _log.exception("run %s: its alarms cannot be counted", run_id)

    async def _keep_trouble(self, run_id: str) -> None:
        before = await asyncio.to_thread(self._stories.kept, run_id)
        if before.trouble is None:
            events, trouble = await asyncio.to_thread(self._count, run_id)
            await self._stories.keep(run_id, events, before._replace(trouble=trouble))

    async def _keep_story(self, run_id: str) -> None:
        if (await asyncio.to_thread(self._stories.kept, run_id)).story is None:
            story = await self._stories.made(run_id)
            kept = await asyncio.to_thread(self._stories.kept, run_id)
            is_of_now = (await asyncio.to_thread(self._log.extent, run_id)).events == story["version"]
            if kept.story is None and is_of_now:
                self._failed.add(run_id)  # nobody asks for it again and again

    def _count(self, run_id: str) -> tuple[int, dict[str, int]]:
        if self._apart is not None:
            return self._apart.counted(run_id)
        opened = self._records.fresh(run_id)
        return opened.version, trouble_of(opened.reading("then"))


def live_of(run: LiveRun) -> Live:
    """How a live run stands, as the library shows it."""
    return Live(state_of([station.phase for station in run.view.stations]), drill=run.info["demo"])
