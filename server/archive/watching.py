"""The live runs of all sites as they are now: heard of by LISTEN, told to every overview that is open."""

import asyncio
import logging
import threading
from collections.abc import AsyncGenerator, Iterable, Iterator
from contextlib import closing, contextmanager
from typing import Any, Final

import orjson
from sqlalchemy import Connection, text
from sqlalchemy.exc import SQLAlchemyError

from server.archive.backoff import wait_s
from server.archive.faults import ArchiveFault, fault_from_error
from server.archive.place import ArchiveAddress
from server.archive.reading import run_id_of
from server.archive.sending import CHANGED
from server.clock import Clock
from server.timeline.events import rfc3339

EVERY_S: Final = 2.0
"""How often it is looked without being called: when sites were heard of is told by no call. Chosen."""

GATHER_S: Final = 0.3
"""Calls that come so close together are one look: a thousand sites call at once. Chosen."""

ANSWER_MS: Final = 10_000
"""An archive that takes longer is said not to answer. Chosen."""

BEHIND: Final = 20
"""Messages that may wait for one page; it begins anew then. Chosen."""

Json = dict[str, Any]
_log = logging.getLogger(__name__)


class Watch:
    """Watches an archive in a thread of its own; `messages` is for the loop in which `watched` was begun."""

    def __init__(self, address: ArchiveAddress) -> None:
        self._place = str(address)
        self._engine = address.engine("overview", ANSWER_MS, pool_pre_ping=True)
        self._closing = threading.Event()
        self._shown: dict[str, Json] = {}
        self._trouble: str | None = None
        # By the archive's clock, as is when sites were heard of; None until it was asked.
        self._now: str | None = None
        self._now_s = Clock().real_s
        self._looked_s: float | None = None
        self._pages: set[asyncio.Queue[bytes | None]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread = threading.Thread(target=self._run, name="festoon-overview", daemon=True)

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Watch until the block ends; in the running loop."""
        self._loop = asyncio.get_running_loop()
        self._thread.start()
        try:
            yield
        finally:
            self._closing.set()
            self._engine.dispose()

    async def messages(self) -> AsyncGenerator[bytes, None]:
        """All there is, then whatever changes, without end; each one JSON text."""
        queue: asyncio.Queue[bytes | None] = asyncio.Queue(BEHIND)
        self._pages.add(queue)
        try:
            yield self._snapshot()
            while True:
                message = await queue.get()
                if self._closing.is_set():
                    return
                yield message or self._snapshot()
        finally:
            self._pages.discard(queue)

    def end(self) -> None:
        """End what every page is told; in the loop."""
        self._closing.set()
        self._begin_anew(self._pages)

    @staticmethod
    def _begin_anew(pages: Iterable[asyncio.Queue[bytes | None]]) -> None:
        """Have these pages begin anew when they read: nothing is kept for them."""
        for page in pages:
            while not page.empty():
                page.get_nowait()
            page.put_nowait(None)

    def _snapshot(self) -> bytes:
        return self._message("all", self._shown, [])

    def _message(self, kind: str, changed: dict[str, Json], gone: list[str]) -> bytes:
        age_s = None if self._looked_s is None else self._now_s() - self._looked_s
        said = {
            "type": kind,
            "now": self._now,
            "age_s": age_s,
            "lines": changed,
            "gone": gone,
            "trouble": self._trouble,
        }
        return orjson.dumps(said)

    def _run(self) -> None:
        failures = 0
        while not self._closing.is_set():
            try:
                with closing(self._engine.raw_connection()) as borrowed:
                    listening: Any = borrowed.driver_connection
                    listening.autocommit = True
                    listening.execute(f"LISTEN {CHANGED}")
                    failures = 0
                    self._look_on(listening)
            except Exception as error:  # noqa: BLE001 - the thread must outlive it: the archive is tried again
                failures += 1
                if not self._closing.is_set():
                    self._tell_failed(error)
                    self._closing.wait(wait_s(failures))

    def _look_on(self, listening: Any) -> None:  # noqa: ANN401 - a connection of the driver, which is imported late
        while not self._closing.is_set():
            with self._engine.connect() as connection:
                now = looked(connection)
                at = connection.execute(text("SELECT now()")).scalar_one()
            self._call(self._show, (rfc3339(at), now))
            self._closing.wait(GATHER_S)
            for _ in listening.notifies(timeout=EVERY_S, stop_after=1):
                """What it is about is looked up: a call says nothing that only some may read."""

    def _show(self, looked: tuple[str, dict[str, Json]]) -> None:
        """In the loop: tell every page what is another."""
        self._now, now = looked
        self._looked_s = self._now_s()
        changed = {key: one for key, one in now.items() if self._shown.get(key) != one}
        gone = [key for key in self._shown if key not in now]
        was_in_trouble = self._trouble is not None
        self._shown, self._trouble = now, None
        # Also without a change: a page knows by it that somebody looks.
        kind, told = ("all", now) if was_in_trouble else ("change", changed)
        self._tell(self._message(kind, told, gone))

    def _tell_failed(self, error: Exception) -> None:
        known = error if isinstance(error, ArchiveFault) else None
        if known is None and isinstance(error, SQLAlchemyError):
            known = fault_from_error(error, self._place)
        if known is None and type(error).__module__.startswith("psycopg"):
            known = ArchiveFault(f"The archive at {self._place} cannot be read ({error}).")
        if known is None:
            _log.error("the overview failed", exc_info=error)
        why = str(known or "The overview failed: the server's own log says more.")
        _log.warning("the overview gets nothing", extra={"reason": why})
        self._call(self._fail, why)

    def _fail(self, why: str) -> None:
        self._trouble = why
        self._tell(self._message("change", {}, []))

    def _tell(self, message: bytes) -> None:
        for page in self._pages:
            if page.full():
                self._begin_anew([page])
            else:
                page.put_nowait(message)

    def _call(self, what: Any, given: Any) -> None:  # noqa: ANN401 - one of the two above and what it takes
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(what, given)


def looked(connection: Connection) -> dict[str, Json]:
    """Every site that may be read, as `site NAME`, and every live run, by what it is called here."""
    found: dict[str, Json] = {}
    for row in connection.execute(text(_SITES)):
        heard = None if row.at is None else rfc3339(row.at)
        found[f"site {row.name}"] = {"site": row.name, "url": row.url, "heard": heard, "waiting": row.waiting or 0}
    for row in connection.execute(text(_RUNS)):
        called = run_id_of(row.site, row.run)
        found[called] = {"run": called, "site": row.site, "local": row.local, "picture": row.body}
    return found


_SITES = """
SELECT name, url, at, waiting FROM festoon.sites LEFT JOIN festoon.heard ON site = name WHERE retired IS NULL
"""
_RUNS = """
SELECT pictures.site, pictures.run, runs.local, pictures.body FROM festoon.pictures JOIN festoon.runs USING (site, run)
JOIN festoon.sites ON sites.name = pictures.site WHERE retired IS NULL
"""
