"""A server of live runs on a port of its own, in the test's loop, and desks to talk to it."""

import asyncio
import json
import ssl
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.types import Scope
from websockets.asyncio.client import ClientConnection, connect
from websockets.typing import Origin

from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.listening import WebServer, open_port
from server.desk.pages import web_folder
from server.desk.visitors import is_this_computer
from server.live import DeskMiddleware, Hub, LiveRun
from server.runlog import RunLog
from tests.access.fakes import Entrance
from tests.live.fakes import PLAN, ZERO, ManualClock

PATIENCE_S = 10.0
LAN = "http://192.0.2.7:8440"
Json = dict[str, Any]


class Service:
    """What a test holds: the runs by id, their clocks, and where they are served."""

    def __init__(
        self, runs: dict[str, LiveRun], clocks: dict[str, ManualClock], number: int, entrance: Entrance
    ) -> None:
        self.runs = runs
        self.clocks = clocks
        self.number = number
        self.host = f"127.0.0.1:{number}"
        self.entrance = entrance

    def desk(
        self,
        run: str = "one",
        query: str = "",
        host: str | None = None,
        origin: str | None = None,
        cookie: str | None = None,
        trusting: ssl.SSLContext | None = None,
    ) -> connect:
        """A websocket to a run, to be used in `async with`; `host` is what the server is called."""
        return connect(
            f"{'wss' if trusting else 'ws'}://{host or self.host}/api/runs/{run}/live{query}",
            origin=Origin(origin) if origin is not None else None,
            additional_headers={"cookie": cookie} if cookie is not None else None,
            ssl=trusting,
            compression=None,
            proxy=None,
            open_timeout=PATIENCE_S,
            host="127.0.0.1",
            port=self.number,
        )


@asynccontextmanager
async def live_runs(
    folder: Path, *names: str, at_s: float = 100.0
) -> AsyncIterator[tuple[dict[str, LiveRun], dict[str, ManualClock]]]:
    """Started runs of the plan of two stations, by name, with clocks moved by hand."""
    log = RunLog.open(folder)
    clocks = {name: ManualClock(at_s) for name in names}
    known = {run.run_id for run in log.runs()}
    for name in set(names) - known:
        log.create_run(name, "the text of the plan", "two.plan.toml", ZERO)
    runs = {name: LiveRun(name, PLAN, clock, log, Hub()) for name, clock in clocks.items()}
    try:
        for run in runs.values():
            run.start()
        yield runs, clocks
    finally:
        for run in runs.values():
            run.stop()
        log.close()


def app_of(
    runs: dict[str, LiveRun],
    entrance: Entrance | None = None,
    is_here: Callable[[Scope], bool] = is_this_computer,
    bound: str = "127.0.0.1",
    others: str | None = LAN,
) -> DeskMiddleware:
    """The application of `runs`, bound to an address, which other devices are told to find at `others`."""
    doorkeeper = (entrance or Entrance()).doorkeeper
    return create_app(runs, Hosts(bound), web_folder(), doorkeeper, lambda: others, is_here)


@asynccontextmanager
async def serving(
    folder: Path, *names: str, is_here: Callable[[Scope], bool] = is_this_computer, tls: ssl.SSLContext | None = None
) -> AsyncIterator[Service]:
    """The same behind a real web server on a free port; `is_here` tells who needs no pairing."""
    entrance = Entrance()
    async with live_runs(folder, *names) as (runs, clocks):
        up = asyncio.Event()
        with open_port("127.0.0.1", 0) as port:
            app = app_of(runs, entrance, is_here)
            server = WebServer(app, up.set, tls)
            number = port.getsockname()[1]
            serving = asyncio.create_task(server.serve([port]))
            try:
                async with asyncio.timeout(PATIENCE_S):
                    await up.wait()
                yield Service(runs, clocks, number, entrance)
            finally:
                server.should_exit = True
                await serving


async def heard(desk: ClientConnection, kind: str) -> Json:
    """The next message of that type; what comes before it is passed over."""
    async with asyncio.timeout(PATIENCE_S):
        while True:
            message: Json = json.loads(await desk.recv())
            if message["type"] == kind:
                return message


async def said(desk: ClientConnection, message: Any) -> Json:
    """The answer to one message, given as JSON, or as text or bytes as they are."""
    await desk.send(message if isinstance(message, str | bytes) else json.dumps(message))
    async with asyncio.timeout(PATIENCE_S):
        while True:
            answer: Json = json.loads(await desk.recv())
            if answer["type"] in {"taken", "refused", "time"}:
                return answer


def event(event_id: str = "e1", **keys: Any) -> Json:
    """An event message: station a's motor started now, unless `keys` say otherwise."""
    return {
        "type": "event",
        "event": {"id": event_id, "kind": "motor_start", "station": "a", "source": "tap:pad"} | keys,
    }
