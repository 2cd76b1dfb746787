"""The archive's own pages and routes: every one only reads, and none asks who somebody is."""

from collections.abc import AsyncIterator
from datetime import date
from pathlib import Path
from typing import Annotated, Final

from fastapi import APIRouter, FastAPI, Query
from fastapi.responses import StreamingResponse
from starlette.types import ASGIApp

from server.archive.faults import ArchiveFault
from server.archive.months import months_of
from server.archive.reading import ArchivedRuns
from server.archive.watching import Watch
from server.desk.access import Guard, Hosts
from server.desk.answers import name_answers
from server.desk.apart import AnsweredApart
from server.desk.debriefs import debrief_routes
from server.desk.exports import export_routes
from server.desk.first_looks import Stories, first_look_routes
from server.desk.joining import add_routes
from server.desk.lessons import lesson_routes
from server.desk.library import Sought, finding_routes
from server.desk.messages import Wire
from server.desk.pages import Files, page_routes
from server.desk.records import Elsewhere, Records
from server.desk.refusals import tell_as_unavailable, tell_faults
from server.desk.visitors import HEALTHY

PAGES: Final = {
    "/": "overview.html",
    "/overview": "overview.html",
    "/library": "library.html",
    "/debrief": "debrief.html",
    "/months": "months.html",
}


class Answering(Wire):
    """The server answers."""

    up: bool


def create_archive_app(runs: ArchivedRuns, watch: Watch, apart: Elsewhere, hosts: Hosts, web: Path) -> ASGIApp:
    """The application over all sites that `runs` may read; `apart` goes through them."""
    api = FastAPI(title="Festoon archive", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    files = Files(directory=web, check_dir=False)
    records = Records(runs, "archive")
    tell_as_unavailable(api, (ArchiveFault,))
    api.add_middleware(AnsweredApart, apart=apart)
    stories = Stories(records, apart, (ArchiveFault,), None)
    for router in (
        page_routes(files, PAGES),
        overview_routes(watch),
        finding_routes(runs.find),
        month_routes(runs),
        first_look_routes(records, (), stories),
        debrief_routes(records, ()),
        export_routes(records),
        lesson_routes(records),
    ):
        add_routes(api, router)
    api.mount("/static", files)
    tell_faults(api, PAGES)
    name_answers(api)
    return Guard(api, hosts)


def overview_routes(watch: Watch) -> APIRouter:
    """What the overview hears, and whether the server answers."""
    router = APIRouter()

    @router.get(HEALTHY)
    async def is_up() -> Answering:
        """Whether the server answers at all."""
        return Answering(up=True)

    @router.get("/api/overview", response_class=StreamingResponse)
    async def overview() -> StreamingResponse:
        """Every site and live run, then whatever changes: server-sent events (HTML, 9.2), one JSON text each."""
        headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
        return StreamingResponse(_framed(watch.messages()), media_type="text/event-stream", headers=headers)

    return router


class MonthOfSite(Wire):
    """One month of one site: counted runs, their hours, and how often people were told of each kind of alarm."""

    month: date
    site: str
    runs: int
    hours: float
    alarms: dict[str, int]


class Months(Wire):
    """The months that were asked for, by month and site; `sites` are all that may be read."""

    months: list[MonthOfSite]
    sites: list[str]


def month_routes(runs: ArchivedRuns) -> APIRouter:
    """Alarms by site and month."""
    router = APIRouter()

    @router.get("/api/months")
    def months(
        first_day: Annotated[date, Query(alias="from")], last_day: Annotated[date, Query(alias="to")], at: Sought = ""
    ) -> Months:
        """Of the house's days from one to another, both included; `at` is one site."""
        found = months_of(runs, first_day, last_day, at or None)
        return Months(months=[MonthOfSite(**one._asdict()) for one in found], sites=runs.sites())

    return router


async def _framed(messages: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    async for message in messages:
        yield b"data: " + message + b"\n\n"
