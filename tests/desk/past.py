"""A log with a finished run in it, behind an application, and a client of that."""

from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from datetime import datetime, timedelta
from pathlib import Path

import httpx
from starlette.types import Scope

from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.pages import web_folder
from server.desk.records import Elsewhere, Past
from server.desk.visitors import is_this_computer
from server.live import LiveRun
from server.runlog import RunLog, RunLogFault
from server.timeline.events import Recording, read_recording
from server.timeline.plan import Plan, parse_plan
from tests.access.fakes import Entrance
from tests.desk.service import LAN

AT = "http://127.0.0.1:8440"
FIXTURES = Path(__file__).parents[2] / "fixtures"
PLAN_NAME = "pair.plan.toml"
PLAN_TEXT = (FIXTURES / "plans" / PLAN_NAME).read_text(encoding="utf-8")
EVENTS_TEXT = (FIXTURES / "recordings/good/pair.events.jsonl").read_text(encoding="utf-8")
RUN = "pair-2026-03-14"


def pair() -> Plan:
    return parse_plan(PLAN_TEXT, PLAN_NAME)


def recording() -> Recording:
    return read_recording(EVENTS_TEXT.split("\n"), pair(), "pair")


TOMORROW = pair().zero + timedelta(days=1)


async def fill(log: RunLog, run: str = RUN, late: Mapping[str, float] | None = None) -> None:
    """Write the recorded show down as a run of the log, each event 20 ms after it happened unless `late` says more."""
    log.create_run(run, PLAN_TEXT, PLAN_NAME, pair().zero)
    known = [(one.t + timedelta(seconds=(late or {}).get(one.id, 0.02)), one) for one in recording().events]
    for arrived, one in sorted(known, key=lambda pair: pair[0]):
        await log.append(run, one, arrived)


@asynccontextmanager
async def client_of(
    log: RunLog,
    runs: Mapping[str, LiveRun] | None = None,
    now: datetime = TOMORROW,
    entrance: Entrance | None = None,
    is_here: Callable[[Scope], bool] = is_this_computer,
    apart: Elsewhere | None = None,
) -> AsyncIterator[httpx.AsyncClient]:
    """A client of an application whose wall clock stands at `now`; `is_here` tells who needs no pairing.

    `apart` goes through runs; nothing else does where it is None.
    """
    past = Past(log, lambda: now, (RunLogFault,), apart)
    doorkeeper = (entrance or Entrance()).doorkeeper
    app = create_app(runs or {}, Hosts("127.0.0.1"), web_folder(), doorkeeper, lambda: LAN, is_here, past)
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=AT) as client:
        yield client
