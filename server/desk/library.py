"""The library over HTTP: the runs of the log, found, put away and removed."""

import asyncio
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal

import orjson
from fastapi import APIRouter, Depends, HTTPException, Query, Response
from starlette.background import BackgroundTask

from server.desk.backlog import Backlog
from server.desk.debrief_messages import ArchiveRequest, Library, LibraryRun, RemoveRequest
from server.desk.messages import Reason
from server.desk.records import NO_SUCH_RUN, Lag, Past, Records
from server.desk.visitors import Visitor, booth_of
from server.live import LiveRun
from server.review.library import LibraryLine, Wanted, line_json
from server.timeline.events import rfc3339

LIVE = "This run is live: it ends when its server is started without its plan."
SURE = "A run is removed for good: say yes to it."
_ANSWERS: dict[int | str, dict[str, Any]] = {404: {"model": Reason}, 409: {"model": Reason}, 422: {"model": Reason}}

Who = Annotated[Visitor, Depends(booth_of)]
Whether = Literal["true", "false", "all"]


def library_routes(records: Records, runs: Mapping[str, LiveRun], past: Past, backlog: Backlog) -> APIRouter:
    """The routes of the library; `runs` are the live ones, `backlog` goes through what nobody went through yet."""
    log, now = past.log, past.now
    router = APIRouter(prefix="/api/library", responses=_ANSWERS)

    async def lines() -> list[LibraryLine]:
        return await asyncio.to_thread(backlog.lines, runs)

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
        uncounted = sum(map(backlog.is_due, every))
        lag = None if past.archive is None else lag_json(past.archive())
        body = orjson.dumps({"runs": found, "uncounted": uncounted, "archive": lag})
        # After the answer: whoever looks for a run need not wait until others have been gone through.
        return Response(body, media_type="application/json", background=BackgroundTask(backlog.go_on, every))

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

    return router


def lag_json(lag: Lag) -> dict[str, Any]:
    """How the archive fares, as it is sent."""
    said = {"place": lag.place, "site": lag.site, "waiting": lag.waiting, "why": lag.why, "notes": list(lag.notes)}
    return said | {"since": rfc3339(lag.since) if lag.since else None}


def _refuse_live(line: LibraryLine) -> None:
    if line.live:
        raise HTTPException(409, LIVE)
