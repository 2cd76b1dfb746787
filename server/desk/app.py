"""The application that serves the desks: pages, runs, and the websocket of each desk."""

from collections.abc import Callable, Mapping
from pathlib import Path

from fastapi import FastAPI
from starlette.routing import Router
from starlette.types import Scope

from server.access import Doorkeeper
from server.desk.access import Guard, Hosts
from server.desk.answers import name_answers
from server.desk.apart import AnsweredApart
from server.desk.backlog import Backlog
from server.desk.changes import change_routes
from server.desk.contacts import NO_CONTACTS, ContactBoard, contact_routes
from server.desk.corrections import Corrections
from server.desk.debriefs import debrief_routes
from server.desk.exports import export_routes
from server.desk.first_looks import Stories, first_look_routes
from server.desk.health import Health, health_routes
from server.desk.lessons import lesson_routes
from server.desk.library import OwnShelf, finding_routes, shelf_routes
from server.desk.messages import DeskMessage, ServerMessage
from server.desk.pages import PAGES, Files, page_routes
from server.desk.pairings import Others, pairing_routes
from server.desk.plans import InUse, PlanDesk, plan_routes
from server.desk.records import Past, Records
from server.desk.refusals import tell_as_unavailable, tell_faults
from server.desk.routes import live_route, run_routes
from server.desk.sheets import sheet_routes
from server.desk.shells import shell_routes
from server.desk.visitors import Door, is_this_computer
from server.live import DeskMiddleware, LiveRun


def create_app(
    runs: Mapping[str, LiveRun],
    hosts: Hosts,
    web: Path,
    doorkeeper: Doorkeeper,
    others: Others,
    is_here: Callable[[Scope], bool] = is_this_computer,
    past: Past | None = None,
    contacts: Mapping[str, ContactBoard] = NO_CONTACTS,
    plans: PlanDesk | None = None,
    health: Health | None = None,
    backlog: Backlog | None = None,
) -> DeskMiddleware:
    """The application for `runs`, by id and started by the caller, reachable under `hosts`; `web` holds the pages.

    `doorkeeper` lets devices in. `is_here` tells this computer itself, which needs no pairing. `others` is as in
    `pairing_routes`, and `past` is where debriefs find runs. Without it there are no debriefs. `contacts` are those of
    the runs that have any, by the same ids. `plans` is where plans are made and kept; it needs `past`. `health` is what
    whoever looks after the server may ask of it. `backlog` goes through runs of the past; without it, only when the
    library is asked for.
    """
    api = create_api(runs, web, doorkeeper, others, past, contacts, plans, health, backlog)
    front = Router([live_route(runs)], redirect_slashes=False, default=api)
    door = Door(front, doorkeeper, web, is_here)
    return DeskMiddleware(Guard(door, hosts))


def create_api(
    runs: Mapping[str, LiveRun],
    web: Path,
    doorkeeper: Doorkeeper,
    others: Others,
    past: Past | None = None,
    contacts: Mapping[str, ContactBoard] = NO_CONTACTS,
    plans: PlanDesk | None = None,
    health: Health | None = None,
    backlog: Backlog | None = None,
) -> FastAPI:
    """The routes alone, without the checks of `Guard` and `Door` and without desks."""
    api = FastAPI(title="Festoon", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    files = Files(directory=web, check_dir=False)
    api.include_router(page_routes(files))
    api.include_router(shell_routes(web))
    api.include_router(run_routes(runs))
    api.include_router(pairing_routes(doorkeeper, others))
    api.include_router(contact_routes(contacts))
    if past is not None:
        _include_past(api, runs, past, backlog)
    if past is not None and plans is not None:
        api.include_router(plan_routes(plans, lambda: _plans_in_use(runs, past), past.now))
        api.include_router(sheet_routes(plans, past.now))
    if health is not None:
        api.include_router(health_routes(health))
    api.mount("/static", files)
    tell_faults(api, PAGES)
    _describe_messages(api)
    name_answers(api)
    return api


def _include_past(api: FastAPI, runs: Mapping[str, LiveRun], past: Past, backlog: Backlog | None) -> None:
    tell_as_unavailable(api, past.faults)
    records = Records(past.log)
    if past.apart is not None:
        api.add_middleware(AnsweredApart, apart=past.apart)
    shelf = OwnShelf(runs, past, backlog or Backlog(past))
    api.include_router(finding_routes(shelf.find))
    api.include_router(shelf_routes(records, shelf, past))
    api.include_router(first_look_routes(records, runs, Stories(records, past.apart, past.faults, past.log.library)))
    api.include_router(debrief_routes(records, runs))
    api.include_router(export_routes(records))
    api.include_router(lesson_routes(records))
    api.include_router(change_routes(records, Corrections(past.log, runs, past.now)))


def _plans_in_use(runs: Mapping[str, LiveRun], past: Past) -> list[InUse]:
    stored = [past.log.run(run_id) for run_id in runs]
    return [InUse(run.plan_name, run.plan_text) for run in stored if run is not None]


def _describe_messages(api: FastAPI) -> None:
    """Put what goes over the websocket into the OpenAPI document, which has no other place for it."""

    @api.webhooks.post("live-to-desk")
    def to_desk(message: ServerMessage) -> None:
        """What `/api/runs/{run}/live` sends, one JSON text a message."""

    @api.webhooks.post("live-from-desk")
    def from_desk(message: DeskMessage) -> None:
        """What it accepts, likewise."""
