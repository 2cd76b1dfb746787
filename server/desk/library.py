"""The library over HTTP: the runs of the log, found, put away and removed."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Annotated, Any, Final, Literal, NamedTuple

import orjson
from fastapi import APIRouter, Depends, HTTPException, Query, Response
from pydantic import AfterValidator
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

PAGE: Final = 200
"""Runs in one answer. Chosen: more than anybody reads at once."""


def _text(given: str) -> str:
    """What can be looked for. Raises ValueError for what is in no text, and which a database refuses."""
    if "\0" in given:
        raise ValueError("found the character U+0000; accepted is text without it")
    return given


Sought = Annotated[str, AfterValidator(_text)]
Who = Annotated[Visitor, Depends(booth_of)]
Whether = Literal["true", "false", "all"]


class PageFault(Exception):
    """No such page can be asked for: one sentence."""


class Page(NamedTuple):
    """Which part of what is found: at most so many lines, after that of the run `after`; from the first where None."""

    after: str | None
    most: int


class Found(NamedTuple):
    """One page of what was found; `following` is what the next one comes after, None where there is none.

    `uncounted` are yet to be gone through, which `go_on` does a few at a time. `sites` are those of an archive, None
    for a log of one's own. `lag` is how the archive fares that such a log is sent on to.
    """

    lines: Sequence[LibraryLine]
    following: str | None
    uncounted: int = 0
    sites: Sequence[str] | None = None
    lag: Lag | None = None
    go_on: Callable[[], Awaitable[None]] | None = None


Find = Callable[[Wanted, Page], Found]


class OwnShelf:
    """The runs of a server's own log; `runs` are the live ones, `backlog` goes through what nobody went through yet."""

    def __init__(self, runs: Mapping[str, LiveRun], past: Past, backlog: Backlog) -> None:
        self._runs = runs
        self._past = past
        self._backlog = backlog

    def lines(self) -> list[LibraryLine]:
        """Every run; call it in a thread."""
        return self._backlog.lines(self._runs)

    def find(self, wanted: Wanted, page: Page) -> Found:
        """One page of the runs that are looked for; likewise."""
        every = self.lines()
        found = [line for line in every if wanted.matches(line)]
        first = next((n for n, line in enumerate(found, 1) if line.run == page.after), 0)
        shown = found[first : first + page.most]
        following = shown[-1].run if shown and len(found) > first + page.most else None
        lag = None if self._past.archive is None else self._past.archive()
        uncounted = sum(map(self._backlog.is_due, every))
        return Found(shown, following, uncounted, None, lag, partial(self._backlog.go_on, every))


def finding_routes(find: Find) -> APIRouter:
    """The route that finds runs, in a log of one's own or in an archive."""
    router = APIRouter(prefix="/api/library", responses=_ANSWERS)

    @router.get("", response_model=Library)
    async def runs(
        first_day: Annotated[date | None, Query(alias="from")] = None,
        last_day: Annotated[date | None, Query(alias="to")] = None,
        text: Sought | None = None,
        plan: Sought | None = None,
        house: Sought | None = None,
        trouble: Sought | None = None,
        archived: Whether = "false",
        at: Sought | None = None,
        after: Sought | None = None,
        most: Annotated[int, Query(ge=1, le=PAGE)] = PAGE,
    ) -> Response:
        """The runs that are looked for, a page at a time; an empty parameter asks for nothing."""
        put_away = None if archived == "all" else archived == "true"
        named = (text or None, plan or None, house or None, trouble or None)
        wanted = Wanted(first_day, last_day, *named, archived=put_away, at=at or None)
        try:
            found = await asyncio.to_thread(find, wanted, Page(after or None, most))
        except PageFault as fault:
            raise HTTPException(422, str(fault)) from None
        # After the answer: whoever looks for a run need not wait until others have been gone through.
        after_it = None if found.go_on is None else BackgroundTask(found.go_on)
        return Response(orjson.dumps(found_json(found)), media_type="application/json", background=after_it)

    return router


def found_json(found: Found) -> dict[str, Any]:
    """What was found, as it is sent."""
    return {
        "runs": [line_json(line) for line in found.lines],
        "following": found.following,
        "uncounted": found.uncounted,
        "sites": None if found.sites is None else list(found.sites),
        "archive": None if found.lag is None else lag_json(found.lag),
    }


def shelf_routes(records: Records, shelf: OwnShelf, past: Past) -> APIRouter:
    """The routes that put a run of a server's own log away, bring it back, or remove it."""
    log, now = past.log, past.now
    router = APIRouter(prefix="/api/library", responses=_ANSWERS)

    async def line_of(run_id: str) -> LibraryLine:
        found = [line for line in await asyncio.to_thread(shelf.lines) if line.run == run_id]
        if not found:
            raise HTTPException(404, NO_SUCH_RUN)
        return found[0]

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
