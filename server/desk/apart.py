"""Debriefs in a process of their own, so that going through a night takes nothing of a live run's time and memory.

Requests are answered there by the very routes that are here; who may ask was looked at before they come this far.
"""

import asyncio
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Collection
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from multiprocessing.process import BaseProcess
from typing import NamedTuple, TypeVar
from urllib.parse import parse_qs

from fastapi import FastAPI
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.desk.debriefs import debrief_routes
from server.desk.exports import export_routes
from server.desk.joining import add_routes
from server.desk.lessons import lesson_routes
from server.desk.records import DROPPED, Answered, Elsewhere, Origin, Records, RunsOfLog
from server.desk.refusals import tell_as_unavailable, tell_faults
from server.review.library import trouble_of

PATHS = ("/api/debriefs/", "/api/lessons", "/api/comparison")
"""What is answered apart, of runs of the log: dropped recordings are here alone."""

GONE = "Going through runs came to an end, perhaps for lack of memory: ask again."
NICE = 5
"""How far it stands back for the live runs where both want a processor: it has about a third of it then. Chosen."""

_IN_PLACE = ("report.pdf",)  # it waits for a process of its own already
_PAGE = "/debrief"  # whoever asks for it goes through a run next
_SHELF = "/library"  # and whoever asks for this opens one soon


class Opening(NamedTuple):
    """How the other process comes to the log; `open` and `faults` are found by their names there."""

    open: Callable[[str], RunsOfLog]
    where: str
    faults: tuple[type[Exception], ...]
    live: tuple[str, ...] = ()
    origin: Origin = "log"


class _Asked(NamedTuple):
    path: str
    query: bytes


_Given = TypeVar("_Given")
_Told = TypeVar("_Told")


class Apart:
    """The other process: made when it is first asked, and again when it has ended. One request at a time."""

    def __init__(self, opening: Opening) -> None:
        self._opening = opening
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()

    async def answer(self, path: str, query: bytes) -> Answered | None:
        """What the routes there answer; None where the process ended meanwhile."""
        submitted = self._submit(_answer, _Asked(path, query))
        try:
            return await asyncio.wrap_future(submitted)
        except BrokenProcessPool:
            return None

    def counted(self, run_id: str) -> tuple[int, dict[str, int]]:
        """How many events a run has, and how often people were told of each kind of alarm in it; call it in a thread.

        Raises whatever the log raises, and BrokenProcessPool.
        """
        return self._submit(_count, run_id).result()

    def begin(self) -> None:
        """Make the process, which takes a second or two, before it is asked; in vain where there is no room."""
        with suppress(OSError, BrokenProcessPool):  # whoever asks it then is told
            self._submit(_opened_there, None)

    def close(self) -> None:
        """End the process."""
        with self._lock:
            if self._pool is not None:
                self._pool.shutdown(cancel_futures=True)
                self._pool = None

    def _submit(self, work: Callable[[_Given], _Told], given: _Given) -> Future[_Told]:
        """Have the process do something; one that has ended is made anew."""
        with self._lock:
            for _ in range(2):
                if self._pool is None:
                    context = multiprocessing.get_context("spawn")
                    self._pool = ProcessPoolExecutor(1, context, _begin, (self._opening,))
                try:
                    return self._pool.submit(work, given)
                except BrokenProcessPool:
                    self._pool = None
        raise BrokenProcessPool(GONE)


class AnsweredApart:
    """Middleware that has what concerns debriefs answered in the other process."""

    def __init__(self, app: ASGIApp, apart: Elsewhere) -> None:
        self._app = app
        self._apart = apart
        self._ahead: set[asyncio.Future[Answered | None]] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, here or there."""
        if not _is_apart(scope):
            self._look_ahead(scope)
            await self._app(scope, receive, send)
            return
        answered = await self._apart.answer(scope["path"], scope["query_string"])
        if answered is None:
            await JSONResponse({"reason": GONE}, 503)(scope, receive, send)
            return
        await send({"type": "http.response.start", "status": answered.status, "headers": answered.headers})
        await send({"type": "http.response.body", "body": answered.body})

    def _look_ahead(self, scope: Scope) -> None:
        """Begin to go through the run of a page that is asked for, while the browser still makes that."""
        if scope["type"] == "http" and scope["path"] == _SHELF:
            self._apart.begin()
        if scope["type"] != "http" or scope["path"] != _PAGE:
            return
        for run in parse_qs(scope["query_string"].decode("ascii", "replace")).get("run", [])[:1]:
            if not run.startswith(DROPPED):
                ahead = asyncio.ensure_future(self._apart.answer(f"/api/debriefs/{run}/story", b""))
                self._ahead.add(ahead)
                ahead.add_done_callback(self._ahead.discard)


def _is_apart(scope: Scope) -> bool:
    path = scope.get("path", "")
    return (
        scope["type"] == "http"
        and scope["method"] == "GET"
        and path.startswith(PATHS)
        and not path.endswith(_IN_PLACE)
        and DROPPED not in path
        and DROPPED.encode() not in scope["query_string"]
    )


# In the other process


class _There:
    """What the other process keeps between requests."""

    opening: Opening
    api: FastAPI | None = None
    records: Records


def _begin(opening: Opening) -> None:
    # Ctrl-C at a terminal is for whoever asks, and ends this process with it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(NICE)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    _There.opening = opening


def _opened() -> tuple[Records, FastAPI]:
    """The log there and its routes, from the first request on: that a log cannot be opened is that one's answer."""
    if _There.api is None:
        opening = _There.opening
        _There.records = Records(opening.open(opening.where), opening.origin)
        _There.api = api_of(_There.records, opening.live, opening.faults)
    return _There.records, _There.api


def _end_with(parent: BaseProcess) -> None:
    """Whoever asks may be killed; nobody would ever end this process then."""
    parent.join()
    os._exit(0)


def api_of(records: Records, live: Collection[str], faults: tuple[type[Exception], ...]) -> FastAPI:
    """The routes that are answered apart."""
    api = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    for router in (debrief_routes(records, live), export_routes(records), lesson_routes(records)):
        add_routes(api, router)
    tell_faults(api)
    tell_as_unavailable(api, faults)
    return api


def _count(run_id: str) -> tuple[int, dict[str, int]]:
    records, _ = _opened()
    opened = records.fresh(run_id)
    return opened.version, trouble_of(opened.reading("then"))


def _opened_there(_: None) -> None:
    _opened()


def _answer(asked: _Asked) -> Answered:
    return asyncio.run(_answered(asked))


async def _answered(asked: _Asked) -> Answered:
    try:
        _, api = _opened()
    except _There.opening.faults as fault:
        refusal = JSONResponse({"reason": str(fault)}, 503)
        return Answered(refusal.status_code, list(refusal.raw_headers), bytes(refusal.body))
    sent: list[Message] = []

    async def send(message: Message) -> None:
        sent.append(message)

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "GET",
        "scheme": "http",
        "path": asked.path,
        "raw_path": asked.path.encode(),
        "root_path": "",
        "query_string": asked.query,
        "headers": [],
    }
    await api(scope, receive, send)
    body = b"".join(message.get("body", b"") for message in sent[1:])
    return Answered(sent[0]["status"], list(sent[0]["headers"]), body)
