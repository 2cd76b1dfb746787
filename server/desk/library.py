"""The library over HTTP: the runs of the log, found, put away and removed."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Mapping
from datetime import date
from typing import Annotated, Any, Literal

import orjson
from fastapi import APIRouter, Depends, HTTPException, Query, Response
from starlette.background import BackgroundTask

from server.desk.debrief_messages import ArchiveRequest, Library, LibraryRun, RemoveRequest
from server.desk.first_looks import Stories, first_look_routes
from server.desk.messages import Reason
from server.desk.records import NO_SUCH_RUN, Elsewhere, Log, Past, Records
from server.desk.visitors import Visitor, booth_of
from server.live import LiveRun
from server.review.library import (
    COUNTED_BY,
    LibraryLine,
    Live,
    Wanted,
    body_from_kept,
    is_uncounted,
    line_json,
    lines_of,
    trouble_of,
)
from server.review.story import state_of

COUNTED_AT_ONCE = 3
"""Runs gone through after one answer, five seconds each for a long show; the next answer has them. Chosen."""

LIVE = "This run is live: it ends when its server is started without its plan."
SURE = "A run is removed for good: say yes to it."
_ANSWERS: dict[int | str, dict[str, Any]] = {404: {"model": Reason}, 409: {"model": Reason}, 422: {"model": Reason}}

_log = logging.getLogger(__name__)

Who = Annotated[Visitor, Depends(booth_of)]
Whether = Literal["true", "false", "all"]


class Counting:
    """Counts the trouble of runs and has them told, a few at a time and never twice at once; the log keeps both."""

    def __init__(self, records: Records, log: Log, apart: Elsewhere | None, stories: Stories) -> None:
        self._records = records
        self._log = log
        self._apart = apart
        self._stories = stories
        self._busy = False
        self._failed: set[str] = set()

    def is_due(self, line: LibraryLine) -> bool:
        """Whether a line's trouble is yet to be counted, or its story to be made, and can be."""
        return is_uncounted(line) and line.run not in self._failed

    async def go_on(self, lines: Iterable[LibraryLine]) -> None:
        """Go through a few of the runs of which something is missing; nothing where that is going on already."""
        if self._busy:
            return
        self._busy = True
        due = [line for line in lines if self.is_due(line)][:COUNTED_AT_ONCE]
        try:
            for line in due:
                if line.trouble is None:
                    await self._guarded(line.run, self._keep_trouble)
            for line in due:
                if not line.told and self.is_due(line):
                    await self._guarded(line.run, self._keep_story)
        finally:
            self._busy = False

    async def _guarded(self, run_id: str, work: Callable[[str], Awaitable[None]]) -> None:
        try:
            await work(run_id)
        except Exception:  # noqa: BLE001 - one run that cannot be read must not keep the others from being counted
            self._failed.add(run_id)
            _log.exception("run %s: its alarms cannot be counted", run_id)

    async def _keep_trouble(self, run_id: str) -> None:
        events, trouble = await asyncio.to_thread(self._count, run_id)
        before = await asyncio.to_thread(self._stories.kept, run_id)
        body = body_from_kept(before._replace(trouble=trouble))
        await self._log.library.keep_summary(run_id, events, COUNTED_BY, body)

    async def _keep_story(self, run_id: str) -> None:
        await self._stories.made(run_id)
        if (await asyncio.to_thread(self._stories.kept, run_id)).story is None:
            self._failed.add(run_id)  # nobody asks for it again and again

    def _count(self, run_id: str) -> tuple[int, dict[str, int]]:
        if self._apart is not None:
            return self._apart.counted(run_id)
        opened = self._records.fresh(run_id)
        return opened.version, trouble_of(opened.reading("then"))


def library_routes(records: Records, runs: Mapping[str, LiveRun], past: Past) -> APIRouter:
    """The routes of the library; `runs` are the live ones."""
    log, now, apart = past.log, past.now, past.apart
    router = APIRouter(prefix="/api/library", responses=_ANSWERS)
    stories = Stories(records, past)
    counting = Counting(records, log, apart, stories)

    async def lines() -> list[LibraryLine]:
        return await asyncio.to_thread(lines_of, log, {id_: _live(run) for id_, run in runs.items()})

    async def line_of(run_id: str) -> LibraryLine:
        found = [line for line in await lines() if line.run == run_id]
        if not found:
            raise HTTPException(404, NO_SUCH_RUN)
        return found[0]

    @router.get("", response_model=Library)
    async def find(
        first_day: Annotated[date | None, Query(alias="from")] = None,
        last_day: Annotated[date | None, Query(alias="to")] = None,
        text: str | None = None,
        plan: str | None = None,
        house: str | None = None,
        trouble: str | None = None,
        archived: Whether = "false",
    ) -> Response:
        """The runs that are looked for; an empty parameter asks for nothing."""
        every = await lines()
        put_away = None if archived == "all" else archived == "true"
        wanted = Wanted(
            first_day, last_day, text or None, plan or None, house or None, trouble or None, archived=put_away
        )
        found = [line_json(line) for line in every if wanted.matches(line)]
        uncounted = sum(map(counting.is_due, every))
        body = orjson.dumps({"runs": found, "uncounted": uncounted})
        # After the answer: whoever looks for a run need not wait until others have been gone through.
        return Response(body, media_type="application/json", background=BackgroundTask(counting.go_on, every))

    @router.post("/{run_id}/archive")
    async def archive(run_id: str, asked: ArchiveRequest, who: Who) -> LibraryRun:
        """Put a run away, or bring it back."""
        _refuse_live(await line_of(run_id))
        if asked.archived:
            await log.library.archive(run_id, now(), who.name or asked.by)
        else:
            await log.library.bring_back(run_id)
        return LibraryRun.model_validate(line_json(await line_of(run_id)))

    @router.post("/{run_id}/remove", status_code=204)
    async def remove(run_id: str, asked: RemoveRequest, who: Who) -> None:
        """Remove a run and all that was observed in it."""
        del who
        _refuse_live(await line_of(run_id))
        if not asked.yes:
            raise HTTPException(422, SURE)
        await log.library.remove(run_id)
        records.forget(run_id)

    whole = APIRouter()
    whole.include_router(router)
    whole.include_router(first_look_routes(records, runs, past, stories))
    return whole


def _live(run: LiveRun) -> Live:
    return Live(state_of([station.phase for station in run.view.stations]), drill=run.info["demo"])


def _refuse_live(line: LibraryLine) -> None:
    if line.live:
        raise HTTPException(409, LIVE)
