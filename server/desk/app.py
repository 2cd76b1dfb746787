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
from server.desk.joining import add_routes
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
    add_routes(api, page_routes(files))
    add_routes(api, shell_routes(web))
    add_routes(api, run_routes(runs))
    add_routes(api, pairing_routes(doorkeeper, others))
    add_routes(api, contact_routes(contacts))
    if past is not None:
        _include_past(api, runs, past, backlog)
    if past is not None and plans is not None:
        add_routes(api, plan_routes(plans, lambda: _plans_in_use(runs, past), past.now))
        add_routes(api, sheet_routes(plans, past.now))
    if health is not None:
        add_routes(api, health_routes(health))
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
    add_routes(api, finding_routes(shelf.find))
    add_routes(api, shelf_routes(records, shelf, past))
    add_routes(api, first_look_routes(records, runs, Stories(records, past.apart, past.faults, past.log.library)))
    add_routes(api, debrief_routes(records, runs))
    add_routes(api, export_routes(records))
    add_routes(api, lesson_routes(records))
    add_routes(api, change_routes(records, Corrections(past.log, runs, past.now)))


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
