"""The runs that a debrief can go through: those of the log, and recordings that were dropped on the page."""

import asyncio
import hashlib
import re
import threading
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from typing import Literal, NamedTuple, Protocol, TypeVar

from server.review.account import Account, Clock, Stored, account_from_log
from server.review.kept import Summary
from server.review.library import Archived, Extent, Shelf, StoredRun, plan_or_fault
from server.review.reading import Reading
from server.review.recordings import plan_in_header, recorded_from_lines
from server.timeline.events import Event, Rejected
from server.timeline.plan import Plan, parse_plan

OPEN_AT_ONCE = 4
"""Runs kept gone through; three hours of sixteen stations take 27 MB by each clock (measured). Chosen."""

DROPPED_KEPT = 8
"""Recordings kept in memory, beside those that are kept gone through. Chosen."""

PLAN_LENGTH = 1_000_000
"""Characters of a plan. Chosen: a plan of a hundred stations and fifty segments has 30,000."""

MOST_EVENTS = 5000
"""Events of a recording that is dropped on a page. Chosen: a three-hour show of sixteen stations has 730."""

DROPPED = "recording-"
"""How the id of a dropped recording begins."""

FORGOTTEN = "There is no such recording here any more: drop it again."
NO_SUCH_RUN = "There is no run of this name in the log."

_Kept = TypeVar("_Kept")
_RECORDING = re.compile("recording-[0-9a-f]{12}")


class RecordFault(Exception):
    """A run that cannot be gone through, in one sentence, with the status that answers it."""

    def __init__(self, reason: str, status: int = 404) -> None:
        super().__init__(reason)
        self.status = status


class Shelves(Protocol):
    """What is written of whole runs; every result is there once it is on disk."""

    def archive(self, run_id: str, at: datetime, by: str | None) -> asyncio.Future[int]: ...
    def bring_back(self, run_id: str) -> asyncio.Future[int]: ...
    def remove(self, run_id: str) -> asyncio.Future[int]: ...
    def keep_summary(self, run_id: str, events_counted: int, made_by: str, body: str) -> asyncio.Future[int]: ...


class Heard(Protocol):
    """When the site of a live run was last heard of, and whether that is too long ago for it to be known now."""

    @property
    def at(self) -> datetime: ...
    @property
    def is_silent(self) -> bool: ...


class RunsOfLog(Protocol):
    """What going through runs needs of a log, or of an archive of many; reads may come from any thread.

    `server.runlog.StoredRuns` and `server.archive.reading.ArchivedRuns` are such.
    """

    def run(self, run_id: str) -> StoredRun | None: ...
    def events(self, run_id: str) -> Sequence[Stored]: ...
    def extent(self, run_id: str) -> Extent: ...
    def lacking(self, run_id: str) -> Sequence[str]: ...
    def put_away(self, run_id: str) -> Archived | None: ...
    def heard(self, run_id: str) -> Heard | None: ...
    def summary(self, run_id: str) -> Summary | None: ...


class Log(RunsOfLog, Shelf, Protocol):
    """What debriefs and the library need of a log (`server.runlog.RunLog` is one)."""

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]: ...
    @property
    def library(self) -> Shelves: ...


class Answered(NamedTuple):
    """A whole answer over HTTP."""

    status: int
    headers: list[tuple[bytes, bytes]]
    body: bytes


class Elsewhere(Protocol):
    """What goes through runs in place of this process (`server.desk.apart.Apart` is one)."""

    def answer(self, path: str, query: bytes) -> Awaitable[Answered | None]:
        """What is answered to a request; None where it came to an end meanwhile."""

    def begin(self) -> None:
        """Get ready to be asked soon."""

    def counted(self, run_id: str) -> tuple[int, dict[str, int]]:
        """As of how many events, and how often people were told of each kind of alarm in a run; call it in a thread."""


class Lag(Protocol):
    """How the archive of many sites fares, as this one sees it (`server.archive.forwarding.Lag` is one)."""

    @property
    def place(self) -> str: ...
    @property
    def site(self) -> str | None: ...
    @property
    def waiting(self) -> int: ...
    @property
    def since(self) -> datetime | None: ...
    @property
    def why(self) -> str | None: ...
    @property
    def notes(self) -> Sequence[str]: ...


class Past(NamedTuple):
    """Where finished runs are kept, and the wall clock that tells when something of them is changed.

    `faults` are what the log raises when it cannot be used, each one sentence. `apart` is what goes through runs; this
    process does where it is None. `archive` tells how the archive fares that the log is forwarded to, if it is.
    """

    log: Log
    now: Callable[[], datetime]
    faults: tuple[type[Exception], ...] = ()
    apart: Elsewhere | None = None
    archive: Callable[[], Lag] | None = None


Origin = Literal["log", "archive", "recording"]
"""A server's own log, where a run can be put right; an archive of many, or a recording, where it cannot."""


class Source(NamedTuple):
    """Where a run comes from; `run_id` is None for a recording, `keeps_arrivals` false where it does not say them.

    `lacking` is what damage of the log took of it, in sentences.
    """

    run_id: str | None
    plan_name: str
    plan_text: str
    keeps_arrivals: bool
    rejected: tuple[Rejected, ...] = ()
    lacking: tuple[str, ...] = ()
    origin: Origin = "recording"


class Opened:
    """One run as of one `version`: the number of the last event it had when it was opened, readable or not."""

    def __init__(self, id_: str, source: Source, account: Account, version: int | None = None) -> None:
        self.id = id_
        self.source = source
        self.account = account
        last = account.observed[-1].seq if account.observed else 0
        self.version = last if version is None else version
        self._readings: dict[Clock, Reading] = {clock: Reading(account, clock) for clock in ("now", "then")}
        self._lock = threading.Lock()

    @property
    def plan(self) -> Plan:
        """The plan it was run by."""
        return self.account.plan

    def reading(self, clock: Clock) -> Reading:
        """The run by a clock, gone through: the first call takes as long as that does, which is about a second."""
        with self._lock:
            reading = self._readings[clock]
            _ = reading.walk
            return reading


class Records:
    """Opens runs and keeps the latest of them open; call it from threads, for it reads and reckons."""

    def __init__(self, log: RunsOfLog, origin: Origin = "log") -> None:
        self.log = log
        self._origin: Origin = origin
        self._open: OrderedDict[str, Opened] = OrderedDict()
        self._dropped: OrderedDict[str, tuple[Source, Account]] = OrderedDict()
        self._lock = threading.Lock()

    def opened(self, id_: str) -> Opened:
        """The run of the log, or the dropped recording, of that id, with all it holds now. Raises RecordFault."""
        dropped = _RECORDING.fullmatch(id_) is not None
        version = None if dropped else self.log.extent(id_).events
        with self._lock:
            known = self._open.get(id_)
            if known is not None and version in {None, known.version}:
                self._open.move_to_end(id_)
                return known
        opened = self._recording(id_) if dropped else self.fresh(id_)
        self._keep(self._open, id_, opened, OPEN_AT_ONCE)
        return opened

    def fresh(self, run_id: str) -> Opened:
        """A run of the log, not kept. Raises RecordFault."""
        return self._read(run_id, self.log.lacking)

    def glance(self, id_: str) -> Opened:
        """The same, or a dropped recording, without what a run lacks: that is to read all of it twice more."""
        return self._recording(id_) if _RECORDING.fullmatch(id_) else self._read(id_, lambda _: ())

    def _read(self, run_id: str, lacking_of: Callable[[str], Sequence[str]]) -> Opened:
        stored = self.log.run(run_id)
        if stored is None:
            raise RecordFault(NO_SUCH_RUN)
        plan, fault = plan_or_fault(stored.plan_text, stored.plan_name)
        if plan is None:
            raise RecordFault(f"The plan of {run_id} cannot be used: {fault}.", 409)
        version = self.log.extent(run_id).events
        lacking = tuple(lacking_of(run_id))
        source = Source(run_id, stored.plan_name, stored.plan_text, True, (), lacking, self._origin)
        return Opened(run_id, source, account_from_log(plan, self.log.events(run_id)), version)

    def drop(self, name: str, text: str, plan: tuple[str, str] | None) -> Opened:
        """Take a recording for a while, with the name and text of its plan, or the plan that it carries.

        Raises RecordFault, PlanFaults and RecordingFault.
        """
        lines = text.split("\n")
        plan = plan or plan_in_header(lines)
        if plan is None:
            raise RecordFault(f"{name} does not carry its plan: drop its *.plan.toml together with it.", 422)
        plan_name, plan_text = plan
        if not _is_text(text + plan_text):
            raise RecordFault(f"{name} or its plan has halves of characters in it; accepted is text in UTF-8.", 422)
        if len(plan_text) > PLAN_LENGTH:
            raise RecordFault(f"{plan_name} has {len(plan_text)} characters; accepted are at most {PLAN_LENGTH}.", 422)
        recorded = recorded_from_lines(lines, parse_plan(plan_text, plan_name), name)
        events = len(recorded.account.observed)
        if events > MOST_EVENTS:
            raise RecordFault(f"{name} has {events} events; accepted are at most {MOST_EVENTS}.", 422)
        digest = hashlib.sha256(f"{plan_text}\0{text}".encode()).hexdigest()[:12]
        source = Source(None, plan_name, plan_text, recorded.keeps_arrivals, recorded.rejected)
        id_ = f"{DROPPED}{digest}"
        self._keep(self._dropped, id_, (source, recorded.account), DROPPED_KEPT)
        return Opened(id_, source, recorded.account)

    def forget(self, run_id: str) -> None:
        """Let go of a run that is no longer there."""
        with self._lock:
            self._open.pop(run_id, None)

    def _recording(self, id_: str) -> Opened:
        with self._lock:
            if id_ not in self._dropped:
                raise RecordFault(FORGOTTEN)
            self._dropped.move_to_end(id_)
            return Opened(id_, *self._dropped[id_])

    def _keep(self, kept: OrderedDict[str, _Kept], id_: str, what: _Kept, most: int) -> None:
        with self._lock:
            kept[id_] = what
            kept.move_to_end(id_)
            while len(kept) > most:
                kept.popitem(last=False)


def _is_text(text: str) -> bool:
    """Whether there are no surrogates in it, which JSON can write and UTF-8 cannot."""
    return text.isascii() or not any("\ud800" <= char <= "\udfff" for char in text)
