"""Goes through runs before anybody asks: what the library counts of them, and their stories, which the log keeps."""

import asyncio
import logging
from collections import Counter
from collections.abc import Awaitable, Callable, Iterable, Mapping
from concurrent.futures.process import BrokenProcessPool
from itertools import count
from typing import Final

from server.desk.first_looks import Stories
from server.desk.records import Past, RecordFault, Records
from server.live import LiveRun
from server.review.library import LibraryLine, Live, is_uncounted, lines_of, trouble_of
from server.review.story import state_of

AT_ONCE: Final = 3
"""Runs gone through before others are asked for again, some seconds each for a long show. Chosen."""

LOOK_S: Final = 10.0
"""How often is looked whether a show is over: what is asked of it right then waits a few seconds. Chosen."""

AGAIN: Final = 180
"""Looks after which all runs are looked at again: half an hour. Chosen."""

MOST_TRIES: Final = 3
"""How often a run is tried that cannot be gone through, until then. Chosen."""

_log = logging.getLogger(__name__)


class Backlog:
    """The runs yet to be gone through, a few at a time and never twice at once; the log keeps what is found."""

    def __init__(self, past: Past) -> None:
        self._records = Records(past.log)
        self._log = past.log
        self._apart = past.apart
        self._may_pass: tuple[type[Exception], ...] = (*past.faults, BrokenProcessPool, RecordFault)
        self._stories = Stories(self._records, past.apart, past.faults, past.log.library)
        self._busy = False
        # By run and how many events it had: how often it could not be gone through.
        self._tries: Counter[tuple[str, int]] = Counter()

    def lines(self, runs: Mapping[str, LiveRun]) -> list[LibraryLine]:
        """Every run of the log, the newest show first; `runs` are the live ones. Call it in a thread."""
        return lines_of(self._log, {id_: live_of(run) for id_, run in runs.items()})

    def is_due(self, line: LibraryLine) -> bool:
        """Whether a line's trouble is yet to be counted, or its story to be made, and can be."""
        return is_uncounted(line) and self._tries[line.run, line.events] < MOST_TRIES

    async def go_on(self, lines: Iterable[LibraryLine]) -> None:
        """Go through a few of the runs of which something is missing; nothing where that is going on already."""
        await self.tell([line.run for line in lines if self.is_due(line)][:AT_ONCE])

    async def tell(self, run_ids: Iterable[str]) -> None:
        """Go through these runs, all that is missing of them; nothing where that is going on already."""
        if self._busy:
            return
        self._busy = True
        wanted = list(run_ids)
        try:
            for work in (self._keep_trouble, self._keep_story):
                for run_id in wanted:
                    await self._guarded(run_id, work)
        finally:
            self._busy = False

    async def look_after(self, runs: Mapping[str, LiveRun], look_s: float = LOOK_S, again: int = AGAIN) -> None:
        """Go through each live run as soon as it is over, and through the others while no film runs; without end.

        All are looked at again after every `again` looks, also those that could not be gone through.
        """
        told: dict[str, int] = {}
        is_all_told = False
        for look in count(1):
            await asyncio.sleep(look_s)
            states = {run_id: live_of(run).state for run_id, run in runs.items()}
            is_quiet = not {"running", "standing"} & set(states.values())
            if look % again == 0:
                self._tries.clear()
                is_all_told = False
            try:
                if await self._tell_over([run_id for run_id, state in states.items() if state == "over"], told):
                    is_all_told = False
                if is_quiet and not is_all_told:
                    lines = await asyncio.to_thread(self.lines, runs)
                    await self.go_on(lines)
                    is_all_told = not any(map(self.is_due, lines))
            except Exception:  # noqa: BLE001 - nobody else looks: what goes wrong now is looked at again
                _log.exception("runs are not gone through")

    async def _tell_over(self, run_ids: Iterable[str], told: dict[str, int]) -> bool:
        """Go through those runs of which there is more than `told` says, by run; whether there were any."""
        before = told.copy()
        for run_id in run_ids:
            events = (await asyncio.to_thread(self._log.extent, run_id)).events
            if told.get(run_id) != events and not self._busy:
                told[run_id] = events
                await self.tell([run_id])
        return told != before

    async def _guarded(self, run_id: str, work: Callable[[str, int], Awaitable[bool]]) -> None:
        """Do it as of now, unless it could not be done too often; what may pass is tried again."""
        events = 0
        try:
            if await asyncio.to_thread(self._log.run, run_id) is None:  # removed meanwhile
                return
            events = (await asyncio.to_thread(self._log.extent, run_id)).events
            if self._tries[run_id, events] < MOST_TRIES and not await work(run_id, events):
                self._tries[run_id, events] += 1
        except self._may_pass as fault:
            self._tries[run_id, events] += 1
            _log.warning("run %s: it is not gone through: %s", run_id, fault)
        except Exception:  # noqa: BLE001 - one run that cannot be read must not keep the others from being counted
            self._tries[run_id, events] = MOST_TRIES
            _log.exception("run %s: it cannot be gone through", run_id)

    async def _keep_trouble(self, run_id: str, events: int) -> bool:
        if (await asyncio.to_thread(self._stories.kept, run_id, events)).trouble is None:
            counted, trouble = await asyncio.to_thread(self._count, run_id)
            before = await asyncio.to_thread(self._stories.kept, run_id, counted)
            await self._stories.keep(run_id, counted, before._replace(trouble=trouble))
        return True

    async def _keep_story(self, run_id: str, events: int) -> bool:
        """Whether it is kept, or was of other events than these by then."""
        if (await asyncio.to_thread(self._stories.kept, run_id, events)).story is not None:
            return True
        version = (await self._stories.made(run_id))["version"]
        return (await asyncio.to_thread(self._stories.kept, run_id, version)).story is not None

    def _count(self, run_id: str) -> tuple[int, dict[str, int]]:
        if self._apart is not None:
            return self._apart.counted(run_id)
        opened = self._records.fresh(run_id)
        return opened.version, trouble_of(opened.reading("then"))


def live_of(run: LiveRun) -> Live:
    """How a live run stands, as the library shows it."""
    return Live(state_of([station.phase for station in run.view.stations]), drill=run.info["demo"])
