"""What a run is put together of, and what it answers."""

import asyncio
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import NamedTuple, Protocol, TypeAlias

from server.timeline.events import Event
from server.timeline.view import RunView


class Taken(NamedTuple):
    """The event is on disk, as number `seq` of its run's log, and counts."""

    seq: int
    event: Event


class Refused(NamedTuple):
    """The event is not in the log, for this reason; `again` says that it may be sent again as it is.

    One that is `known` counts all the same, and the run goes on trying to write it down by itself.
    """

    reason: str
    again: bool = False
    known: bool = False


class Stored(Protocol):
    """One event as the log gives it back; `arrived` is the run's time at which it was taken."""

    @property
    def seq(self) -> int: ...
    @property
    def event(self) -> Event: ...
    @property
    def arrived(self) -> datetime: ...


class Log(Protocol):
    """What a run needs of a log (`server.runlog.RunLog` is one)."""

    def events(self, run_id: str) -> Sequence[Stored]:
        """All of a run's events, in the order in which they were taken."""

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]:
        """Begin to write; the result is the event's number once it is on disk, an exception if it is not."""


class Timer(Protocol):
    """A call that is yet to come."""

    def cancel(self) -> None: ...


CallLater: TypeAlias = Callable[[float, Callable[[], None]], Timer]
"""Calls what it is given after so many real seconds."""


class Timeline(Protocol):
    """What a run needs of an engine (`server.timeline.engine.Engine` is one)."""

    def refusal(self, event: Event) -> str | None: ...
    def put(self, event: Event) -> None: ...
    def work(self, now_us: int) -> bool: ...
    def take_all(self, events: Sequence[Event], now_us: int) -> Sequence[tuple[Event, str]]: ...
    def advance(self, now_us: int) -> object: ...
    def next_wake_us(self) -> int | None: ...
    def view(self) -> RunView: ...
