"""Forwarding: a thread that sends a site's log on to the archive, from where the archive says that it is."""

import logging
import threading
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from sqlalchemy.exc import SQLAlchemyError

from server.archive.backoff import wait_s
from server.archive.course import Course
from server.archive.faults import ArchiveFault, fault_from_error
from server.archive.place import ArchiveAddress
from server.archive.sending import Branch
from server.clock import Clock
from server.runlog import RunLogFault
from server.runlog.raw import RawLog

LOOK_S: Final = 0.2
"""How often the log is looked at. Chosen: what is sent is at most so old when it goes."""

PAUSE_S: Final = 0.1
"""Between two transactions while much waits, for a show that runs meanwhile: 2,000 events a second. Chosen."""

HEAR_S: Final = 5.0
"""How often a site says that it is there. Chosen."""

STALLED_S: Final = 10.0
"""A server that has shown nothing for so long is not said to be there. Chosen."""

ANSWER_MS: Final = 10_000
"""What takes the archive longer is given up and tried again: nothing may wait for ever behind a lock. Chosen."""

UNANSWERED_S: Final = 2 * HEAR_S
"""An archive that let nothing get on for so long is not said to be well. Chosen."""

FRESH_S: Final = 1.0
"""For so long what waits is as it was last found; then the log itself is asked. Chosen."""

FAREWELL_S: Final = 3.0
"""How long the end of a server may take to send what is left. Chosen."""

NOTES_KEPT: Final = 20

Json = dict[str, Any]
_log = logging.getLogger(__name__)


class Lag(NamedTuple):
    """How the archive fares, as its site sees it.

    `site` is what the archive calls this one, None until it was asked. `waiting` events are not there yet, and
    something has waited since `since`; None where nothing waits. `why` says why it cannot be reached, None while it can
    be. `sent` events were sent in this life of the server. `notes` are what somebody should know, a sentence each.
    """

    place: str
    site: str | None = None
    waiting: int = 0
    since: datetime | None = None
    why: str | None = None
    sent: int = 0
    notes: tuple[str, ...] = ()


class Forwarding:
    """Forwards the log of `folder` to an archive until it is closed; nothing here waits for the archive.

    `show` is called by whoever has the live runs, once a second. It is a context, which begins and closes it.
    """

    def __init__(self, address: ArchiveAddress, folder: Path, now: Callable[[], datetime]) -> None:
        self._address = address
        self._folder = folder
        self._now = now
        self._now_s = Clock().real_s
        self._lock = threading.Lock()
        self._lag = Lag(str(address))
        self._notes: dict[str, str] = {}
        self._pictures: dict[str, Json] = {}
        self._shown_s: float | None = None
        self._heard_s = float("-inf")
        # Both as the latest course has them: nothing is copied at every turn.
        self._had: Mapping[str, Branch] = {}
        self._there: Mapping[str, int | None] = {}
        self._answered_s, self._answered = self._now_s(), now()
        self._got_on = False
        self._closing = threading.Event()
        # Here, so that a missing extra is told before anything is served.
        self._engine = address.engine("site", ANSWER_MS, pool_pre_ping=False)
        self._thread = threading.Thread(target=self._run, name="festoon-archive", daemon=True)

    def __enter__(self) -> Self:
        """Begin, until the block ends."""
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Send what is left, if that can be done at once, and end."""
        self._closing.set()
        self._thread.join(FAREWELL_S)
        self._engine.dispose()

    def lag(self) -> Lag:
        """How it fares now: also while the archive is asked and says nothing."""
        with self._lock:
            lag, answered = self._lag, self._answered
            silent_s = self._now_s() - self._answered_s
        if silent_s < FRESH_S:
            return lag
        waiting = self._waiting(lag.waiting)
        why = lag.why
        if why is None and silent_s >= UNANSWERED_S:
            why = f"The archive has not answered since {answered:%Y-%m-%d %H:%M:%S %Z}: it is waited for."
        return lag._replace(waiting=waiting, why=why, since=(lag.since or answered) if waiting else lag.since)

    def show(self, pictures: dict[str, Json]) -> None:
        """Take how all live runs stand, by run, in place of what was shown before."""
        with self._lock:
            self._pictures = pictures
            self._shown_s = self._now_s()

    def _run(self) -> None:
        failures = 0
        while not self._closing.is_set():
            self._got_on = False
            try:
                self._forward()
            except Exception as error:  # noqa: BLE001 - the thread must outlive it: the archive is tried again
                failures = 1 if self._got_on else failures + 1
                self._tell_failed(error)
                self._closing.wait(wait_s(failures))

    def _forward(self) -> None:
        """Forward until it fails, or is closed."""
        with RawLog.reading(self._folder) as log, self._engine.connect() as connection:
            course = Course(connection, log, self._note, self._now_s)
            self._told_back(course)
            while not self._closing.is_set():
                sent = course.send()
                self._got_on = True
                self._say(course, sent)
                self._show(course)
                self._closing.wait(PAUSE_S if sent else LOOK_S)
            while course.send():
                """What came last."""
            course.show({}, is_heard=True)

    def _show(self, course: Course) -> None:
        with self._lock:
            pictures, shown_s = self._pictures, self._shown_s
        now_s = self._now_s()
        is_due = now_s - self._heard_s >= HEAR_S
        is_stalled = shown_s is not None and now_s - shown_s >= STALLED_S
        course.show(pictures, is_heard=is_due and not is_stalled)
        if is_due and is_stalled:
            course.is_there()
        if is_due:
            self._heard_s = now_s

    def _told_back(self, course: Course) -> None:
        """Say where the archive has less than it had a while ago."""
        less = course.gone_back(self._had)
        if less:
            told = f"by {less} {'run' if less == 1 else 'runs'}"
            self._note("", f"The archive has gone back, {told}: it is sent again what it lacks.")

    def _say(self, course: Course, sent: int) -> None:
        waiting = course.waiting
        self._had = course.branches
        with self._lock:
            self._there = course.there
            self._answered_s, self._answered = self._now_s(), self._now()
            before = self._lag
            since = None if not waiting else before.since or self._now()
            self._lag = before._replace(
                site=course.site, waiting=waiting, since=since, why=None, sent=before.sent + sent
            )
        if before.why is not None:
            _log.warning("the archive is there again", extra={"site": course.site, "waiting": waiting})

    def _tell_failed(self, error: Exception) -> None:
        if isinstance(error, ArchiveFault | RunLogFault):
            why = str(error)
        elif isinstance(error, SQLAlchemyError):
            why = str(fault_from_error(error, str(self._address)))
        else:
            _log.error("forwarding failed", exc_info=error)
            why = f"Forwarding to the archive failed ({type(error).__name__}): the server's own log says more."
        waiting = self._waiting(self._lag.waiting)
        with self._lock:
            before = self._lag
            since = before.since or (self._now() if waiting else None)
            self._lag = before._replace(why=why, waiting=waiting, since=since)
        if before.why != why:
            _log.warning("the archive gets nothing", extra={"reason": why})

    def _waiting(self, otherwise: int) -> int:
        """How many events of the log the archive was not heard to have; `otherwise` where the log cannot be read."""
        there = self._there
        try:
            with RawLog.reading(self._folder) as log:
                has = [(run.last, there.get(run.run, 0)) for run in log.runs()]
        except RunLogFault:
            return otherwise
        return sum(max(0, last - events) for last, events in has if events is not None)

    def _note(self, about: str, text: str) -> None:
        if self._notes.get(about) == text:
            return
        _log.warning("%s", text)
        self._notes[about] = text
        with self._lock:
            self._lag = self._lag._replace(notes=tuple(self._notes.values())[-NOTES_KEPT:])
