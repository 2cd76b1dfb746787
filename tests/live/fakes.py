"""A clock moved by hand, a log that commits when told, an engine that does as told, a desk that keeps what it gets."""

import asyncio
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

import orjson

from server.clock import Clock
from server.live import Hub, LiveRun, Message
from server.runlog import StoredEvent
from server.timeline.engine import Engine
from server.timeline.events import Event
from server.timeline.plan import parse_plan
from server.timeline.view import RunView

PLAN = parse_plan(
    """
    format = "festoon-plan/1"
    title = "Two Lanterns"
    [timing]
    motors_at = 2026-03-14T23:50:00Z
    [[print]]
    id = "leader"
    kind = "leader"
    feet = 60
    [[print]]
    id = "short"
    kind = "feature"
    duration = "2:00"
    cue = true
    [[print]]
    id = "tail"
    kind = "tail"
    feet = 150
    [[stations]]
    id = "a"
    house = "1"
    [[stations]]
    id = "b"
    house = "2"
    path_ft = 30
    """,
    "two.plan.toml",
)
ZERO = PLAN.zero


class ManualClock(Clock):
    """A real Clock whose two sources are moved by hand; it starts `at_s` after the plan's zero."""

    def __init__(self, at_s: float = 0.0, rate: float = 1.0) -> None:
        self.steady_s = 1000.0
        self.wall_s = ZERO.timestamp() + at_s
        own = None if rate == 1.0 else ZERO + timedelta(seconds=at_s)
        super().__init__(
            own, rate, wall_ns=lambda: round(self.wall_s * 1e9), steady_ns=lambda: round(self.steady_s * 1e9)
        )

    def pass_s(self, seconds: float) -> None:
        """Let real time pass."""
        self.steady_s += seconds
        self.wall_s += seconds


class Timers:
    """Stands in for a loop's `call_later`: keeps what was asked for, until it is cancelled."""

    def __init__(self) -> None:
        self.due: list[tuple[float, Callable[[], None]]] = []

    def call_later(self, delay_s: float, call: Callable[[], None]) -> "FakeTimer":
        entry = (delay_s, call)
        self.due.append(entry)
        return FakeTimer(lambda: self.due.remove(entry) if entry in self.due else None)

    def delays_s(self, call: Callable[[], None]) -> list[float]:
        """How long from when it was asked for until each coming `call`."""
        return [delay_s for delay_s, due in self.due if due == call]


class FakeTimer:
    def __init__(self, cancel: Callable[[], None]) -> None:
        self.cancel = cancel


class HeldLog:
    """A log in memory. Each write is on its way until `commit` or `fail`; with `at_once` it is written as it comes."""

    def __init__(self, at_once: bool = True) -> None:
        self.at_once = at_once
        self.stored: list[StoredEvent] = []
        self.coming: list[tuple[Event, datetime, asyncio.Future[int]]] = []

    def events(self, run_id: str) -> list[StoredEvent]:
        return list(self.stored)

    def append(self, run_id: str, event: Event, arrived: datetime) -> asyncio.Future[int]:
        result: asyncio.Future[int] = asyncio.get_running_loop().create_future()
        self.coming.append((event, arrived, result))
        if self.at_once:
            self.commit()
        return result

    def commit(self) -> None:
        for event, arrived, result in self.coming:
            self.stored.append(StoredEvent(len(self.stored) + 1, event, arrived))
            result.set_result(len(self.stored))
        self.coming.clear()

    def fail(self, error: Exception) -> None:
        for _, _, result in self.coming:
            result.set_exception(error)
        self.coming.clear()


class ToldEngine:
    """An engine that refuses nothing, keeps what it was asked and shows what it is told to."""

    def __init__(self) -> None:
        self.calls: list[tuple[str, int]] = []
        self.shown = RunView(0.0, (), (), (), (), {})
        self.wake_us: int | None = None
        self.failing: str | None = None
        self._put: list[Event] = []

    def refusal(self, event: Event) -> str | None:
        return None

    def put(self, event: Event) -> None:
        self._put.append(event)

    def work(self, now_us: int) -> bool:
        while self._put:
            self._called(self._put.pop(0).id, now_us)
        return True

    def take_all(self, events: Sequence[Event], now_us: int) -> list[tuple[Event, str]]:
        for event in events:
            self._called(event.id, now_us)
        return []

    def advance(self, now_us: int) -> None:
        self._called("advance", now_us)

    def next_wake_us(self) -> int | None:
        return self.wake_us

    def view(self) -> RunView:
        return self.shown

    def _called(self, what: str, now_us: int) -> None:
        if what == self.failing:
            raise ZeroDivisionError("a fault made for this test")
        self.calls.append((what, now_us))


class ListDesk:
    """A desk that keeps what it is sent."""

    def __init__(self) -> None:
        self.messages: list[Message] = []
        self.buffered_bytes = 0
        self.closed = False

    def write(self, message: Message) -> None:
        self.messages.append(message)

    def close(self) -> None:
        self.closed = True

    def told(self) -> list[Any]:
        """What it was sent, as values."""
        return [orjson.loads(message.text) for message in self.messages]

    def types(self) -> list[str]:
        return [message["type"] for message in self.told()]


def tap(event_id: str, at_s: float, kind: str = "motor_start", **keys: Any) -> Event:
    """An event of a contact, `at_s` after the plan's zero; at station a unless told."""
    keys = {"station": "a"} | keys if kind not in {"retract", "ack", "note", "shelve"} else keys
    return Event(id=event_id, t=ZERO + timedelta(seconds=at_s), kind=kind, source="contact", **keys)  # type: ignore[arg-type]


class Stage:
    """A live run among fakes; `engine` is the real one unless another is given."""

    def __init__(
        self,
        *,
        at_s: float = 0.0,
        rate: float = 1.0,
        at_once: bool = True,
        engine: ToldEngine | None = None,
        **hub: Any,
    ) -> None:
        self.clock = ManualClock(at_s, rate)
        self.timers = Timers()
        self.log = HeldLog(at_once)
        self.engine = engine
        self.run = self.new_run(Hub(**hub))

    def new_run(self, hub: Hub | None = None) -> LiveRun:
        """Another life of the same run: the same log and clock, all else new."""
        engine = self.engine or Engine(PLAN)
        return LiveRun("r1", PLAN, self.clock, self.log, hub or Hub(), engine=engine, call_later=self.timers.call_later)

    @contextmanager
    def live(self) -> Iterator[LiveRun]:
        self.run.start()
        yield self.run
        self.run.stop()
