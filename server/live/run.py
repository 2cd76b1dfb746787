"""One run while it is live: every event in one order, on disk before it counts, then into the engine and out."""

import asyncio
import logging
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple, Protocol, TypeVar

from server.clock import Clock
from server.live.hub import EVENTS_SHOWN, Hub
from server.live.information import run_info
from server.live.unwritten import Unwritten
from server.timeline.engine import Engine
from server.timeline.events import Event, EventFault, json_from_event, rfc3339
from server.timeline.faults import both
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock
from server.timeline.view import RunView

AHEAD_S = 2.0
"""An event may be this far ahead of the run's clock: what the clocks of desks and inputs differ by. Chosen."""

BEFORE_S = 12 * 3600.0
"""And this far before the motors' planned start, but for feeds that come and go. Chosen."""

STEP_S = 0.2
"""A wall clock that was set by more than this is told (the model's alarm `clock_step`)."""

BEAT_S = 1.0
"""Between two heartbeats, in real seconds."""

STUCK_S = 1.0
"""How long an event that is on its way to the disk may hold up the engine's time, in real seconds. Chosen."""

DOWN_S = 3600.0
"""How far ahead of a clock known to be behind a tap is believed. Chosen: in a show a server is down for less."""

SLICE_S = 0.01
"""How long the engine may work on one event before others have their turn. Chosen: nobody sees it."""

TURN_S = 0.005
"""And how long these have it, in real seconds. Chosen: a tap is answered in a millisecond."""

SLOW = "The disk has not answered for over a second: it may be full, locked by another program, or failing."

_Given = TypeVar("_Given")
_MICROSECOND = timedelta(microseconds=1)
_log = logging.getLogger(__name__)


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


class _Coming(NamedTuple):
    """An event on its way to the disk, the run's time at which it came, and its answer."""

    event: Event
    arrived_us: int
    answer: asyncio.Future[Taken | Refused]


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


class Timeline(Protocol):
    """What a run needs of an engine (`server.timeline.engine.Engine` is one)."""

    def refusal(self, event: Event) -> str | None: ...
    def put(self, event: Event) -> None: ...
    def work(self, now_us: int) -> bool: ...
    def take_all(self, events: Sequence[Event], now_us: int) -> Sequence[tuple[Event, str]]: ...
    def advance(self, now_us: int) -> object: ...
    def next_wake_us(self) -> int | None: ...
    def view(self) -> RunView: ...


def untimely(event: Event, plan: Plan, now_s: float) -> str | None:
    """Say why an event cannot have happened when it says, as of `now_s` after the plan's zero; None where it can."""
    at_s = (event.t - plan.zero).total_seconds()
    if at_s > now_s + AHEAD_S:
        return f"t is {at_s - now_s:.1f} s in the future; accepted is up to {AHEAD_S:.0f} s"
    # A feed is told of only when it changes: one that is dead since the day before is never told again.
    if at_s < -BEFORE_S and event.kind not in {"feed_up", "feed_down"}:
        return f"t is more than {BEFORE_S / 3600:.0f} h before the motors start at {rfc3339(plan.zero)}"
    return None


def _clock_is_behind(behind_s: float) -> str:
    by = f"{behind_s / 60:.0f} min" if behind_s >= 90 else f"{behind_s:.1f} s"
    return (
        f"This computer's clock is {by} behind the last event of this run: times go on from that event, and lag by as"
        " long as the server was down. Set the computer's clock: the run follows by itself."
    )


class LiveRun:
    """One run, from its log on.

    `start` reads the log and must be called in the running loop; `stop` ends the timers, and what is still on its way
    to the disk is written and answered. `call_later` is the loop's unless given. A run whose engine fails says so in
    `fault`, to its desks too, goes on writing down what happens, and disturbs no other run. `view` is the run as its
    engine had it last, `info` what a desk needs of its plan. `events` are those that count, in the order in which they
    came; the first `stored` of them are from before this start, and the last of those was taken at `left_off`.

    While the log cannot be written what is observed counts and is not taken: it is told so, on every desk too, and is
    written down once it can be. `warnings` are what every desk says of the run beside its alarms.
    """

    def __init__(
        self,
        run_id: str,
        plan: Plan,
        clock: Clock,
        log: Log,
        hub: Hub,
        *,
        demo: bool = False,
        engine: Timeline | None = None,
        call_later: Callable[[float, Callable[[], None]], Timer] | None = None,
    ) -> None:
        self.run_id = run_id
        self.plan = plan
        self.hub = hub
        self.info = run_info(run_id, plan, clock.rate, demo)
        self.fault: str | None = None
        self._clock = clock
        self._log = log
        self._engine: Timeline = engine or Engine(plan)
        self._call_later = call_later
        self.events: list[Event] = []
        self.stored = 0
        self.left_off: datetime | None = None
        self._taken: dict[str, Taken] = {}
        self._coming: dict[str, _Coming] = {}
        self._unwritten = Unwritten()
        self.warnings: dict[str, str] = {}
        self._adrift = False
        self._at_work = False
        self._untold: list[tuple[Taken, asyncio.Future[Taken | Refused] | None]] = []
        self._arrived_us = -round(BEFORE_S * 1e6)
        self._engine_us = self._arrived_us
        self._wake: Timer | None = None
        self._beat: Timer | None = None
        self._stepped_s = 0.0
        self.view = RunView(0.0, (), (), (), (), {})

    def start(self) -> None:
        """Replay the log into the engine, bring it up to now, and begin to keep time."""
        self._call_later = self._call_later or asyncio.get_running_loop().call_later
        self._rebuild(self._log.events(self.run_id))
        behind_s = self._go_on_from_log()
        self._guarded(self._advance)
        self._look()
        last = list(self._taken.values())[-EVENTS_SHOWN:]
        self.hub.open(self.info, self.view, (json_from_event(taken.event) for taken in last), self.now_s)
        if self.fault:
            self.hub.publish_fault(self.fault)
        self.hub.publish_warnings(list(self.warnings.values()))
        self._set_wake()
        self._beat = self._call_later(BEAT_S, self.beat)
        if behind_s > STEP_S:
            self._write(self._clock_step(-behind_s))

    def stop(self) -> None:
        """End the timers."""
        if self._unwritten:
            _log.error("run %s: %d events were never written down", self.run_id, len(self._unwritten))
        for timer in (self._wake, self._beat):
            if timer is not None:
                timer.cancel()
        self._wake = self._beat = None
        self._call_later = None

    def snapshot(self) -> bytes:
        """The message that a new desk begins with."""
        return self.hub.snapshot()

    def now_s(self) -> float:
        """The run's time, in seconds after `plan.zero`."""
        return self._now_us() / 1e6

    @property
    def on_the_way(self) -> int:
        """How many events are not on the disk yet."""
        return len(self._coming) + len(self._unwritten)

    def time_of(self, event_id: object) -> datetime:
        """When the event of that id happened, if it was taken or is on its way to the disk; else now."""
        if isinstance(event_id, str):
            known = self._taken.get(event_id) or self._coming.get(event_id) or self._unwritten.get(event_id)
            if known:
                return known.event.t
        return self.plan.zero + self._now_us() * _MICROSECOND

    async def take(self, event: Event) -> Taken | Refused:
        """Take one event, in the order of the calls; the answer comes when it is on disk and counts.

        An event that was taken before, with the same contents, is answered as it was then. A caller that is cancelled
        does not call its event back.
        """
        while other := self._coming.get(event.id) or self._coming.get(event.retracts or ""):
            await asyncio.wait((other.answer,))
        known = self._taken.get(event.id)
        if known and known.event == event:
            return known
        held = self._unwritten.get(event.id)
        if held and held.event == event:
            return self._known()
        reason = self._refusal(event)
        if reason is not None:
            return Refused(reason)
        return await asyncio.shield(self._write(event))

    def wake(self) -> None:
        """Let the engine know the time, and tell what that changed; an event on its way to the disk comes first."""
        if not self._coming:
            self._advance_and_tell()

    def beat(self) -> None:
        """Once a second: the heartbeat, a look at the wall clock, and a wake-up that something held back."""
        self.hub.beat()
        self._look_at_wall_clock()
        self._count_what_is_stuck()
        self._write_again()
        if self._overdue_s() > STUCK_S:
            self._advance_and_tell()
        if self._call_later is not None:
            self._beat = self._call_later(BEAT_S, self.beat)

    def _now_us(self) -> int:
        """Microseconds after zero; never before an event that was taken, whatever the clock says after a restart."""
        return max(self._clock.now_us(self.plan.zero), self._arrived_us)

    def _refusal(self, event: Event) -> str | None:
        if event.id in self._taken or self._unwritten.get(event.id):
            return f"id: found {event.id!r} again with other contents; the first one stands"
        self._catch_up_with(event)
        return untimely(event, self.plan, self.now_s()) or self._guarded(lambda: self._engine.refusal(event))

    def _write(self, event: Event) -> asyncio.Future[Taken | Refused]:
        """Put an event on its way to the disk; the result is its answer.

        Behind others that could not be written it counts at once, and is written after them.
        """
        arrived_us = self._arrived_us = self._now_us()
        answer: asyncio.Future[Taken | Refused] = asyncio.get_running_loop().create_future()
        if self._unwritten.why is not None:
            self._unwritten.hold(event, arrived_us, self._unwritten.why, under_way=False)
            self._count(event, arrived_us)
            answer.set_result(self._known())
            return answer
        self._coming[event.id] = _Coming(event, arrived_us, answer)
        self._append(event, arrived_us)
        return answer

    def _append(self, event: Event, arrived_us: int) -> None:
        writing = self._log.append(self.run_id, event, self.plan.zero + arrived_us * _MICROSECOND)
        writing.add_done_callback(lambda written: self._written(event, arrived_us, written))

    def _written(self, event: Event, arrived_us: int, written: asyncio.Future[int]) -> None:
        """Let an event count that is on disk, or is known not to be; called in the order of the log."""
        coming = self._coming.pop(event.id, None)
        error = written.exception()
        if error is not None:
            _log.error("run %s: event %s was not written: %s", self.run_id, event.id, error)
            if isinstance(error, EventFault):
                self._never_written(event, str(error), coming)
            else:
                self._not_written(event, str(error), coming)
            return
        was_held = self._unwritten.written(event.id) is not None
        self._taken[event.id] = taken = Taken(written.result(), event)
        if not was_held:
            self.events.append(event)
            self._guarded(lambda: self._engine_take(event, arrived_us))
        self._untold.append((taken, coming.answer if coming else None))
        if len(self._untold) == 1:
            asyncio.get_running_loop().call_soon(self._tell)
        if was_held:
            self._write_again()

    def _never_written(self, event: Event, why: str, coming: _Coming | None) -> None:
        """The log is well and does not take this event: it holds up no other."""
        if coming is not None:
            coming.answer.set_result(Refused(why))
            return
        self._unwritten.written(event.id)
        self._say_unwritten()
        self._write_again()

    def _not_written(self, event: Event, why: str, coming: _Coming | None) -> None:
        if coming is None:
            self._unwritten.failed(event.id, why)
            self._say_unwritten()
            return
        self._unwritten.hold(event, coming.arrived_us, why, under_way=False)
        self._count(event, coming.arrived_us)
        coming.answer.set_result(self._known())

    def _count(self, event: Event, arrived_us: int) -> None:
        """Let an event count that is not on disk: a crew that is not told of a stop is worse off than a log is."""
        self.events.append(event)
        self._guarded(lambda: self._engine_take(event, arrived_us))
        self._say_unwritten()
        self._look()
        self.hub.publish(self.view)
        self._set_wake()

    def _count_what_is_stuck(self) -> None:
        """Let what has been on its way to the disk for too long count as it is."""
        for coming in list(self._coming.values()):
            if (self._now_us() - coming.arrived_us) / 1e6 / self._clock.rate > STUCK_S:
                del self._coming[coming.event.id]
                self._unwritten.hold(coming.event, coming.arrived_us, SLOW, under_way=True)
                self._count(coming.event, coming.arrived_us)
                coming.answer.set_result(self._known())

    def _write_again(self) -> None:
        held = self._unwritten.to_write()
        if held is not None:
            self._append(held.event, held.arrived_us)

    def _known(self) -> Refused:
        return Refused(f"Known to all desks, and not written down yet. {self._unwritten.why}", again=True, known=True)

    def _say_unwritten(self) -> None:
        if self._unwritten.why is None:
            self.warn("log", None)
            return
        since = house_clock(self.plan, self._unwritten.since_us / 1e6)
        self.warn(
            "log",
            f"Nothing is written down since {since:%H:%M:%S}. {self._unwritten.why} Until then only this server knows"
            " what came since: do not stop it.",
        )

    def warn(self, about: str, text: str | None) -> None:
        """Have every desk say something of the run beside its alarms, one text about each thing; None takes it away."""
        before = dict(self.warnings)
        self.warnings.pop(about, None)
        if text is not None:
            self.warnings[about] = text
        if self.warnings != before and self._beat is not None:
            self.hub.publish_warnings(list(self.warnings.values()))

    def _tell(self) -> None:
        """Tell the desks of all events that came off the disk together, in one change; then answer them."""
        untold, self._untold = self._untold, []
        try:
            self._set_wake()
            self._look()
            self.hub.publish(self.view, [json_from_event(taken.event) for taken, _ in untold])
            self._say_unwritten()
        finally:
            # They are on the disk, whatever became of telling.
            for taken, answer in untold:
                if answer is not None:
                    answer.set_result(taken)

    def _rebuild(self, stored: Sequence[Stored]) -> None:
        """Have the engine know the log; what of it cannot be of this run is left out, and told."""
        for one in stored:
            self._taken[one.event.id] = Taken(one.seq, one.event)
            self.events.append(one.event)
            self._arrived_us = max(self._arrived_us, (one.arrived - self.plan.zero) // _MICROSECOND)
            self.left_off = one.arrived
        self.stored = len(self.events)
        if not stored:
            return
        self._engine_us = max(self._engine_us, self._arrived_us)
        refused = self._guarded(lambda: self._engine.take_all(self.events, self._engine_us)) or ()
        for event, reason in refused:
            seq = self._taken[event.id].seq
            _log.error("run %s: event %d of the log is left out: %s", self.run_id, seq, reason)
        if refused:
            numbers = both(str(self._taken[event.id].seq) for event, _ in refused)
            self.warn("left out", f"Of the log event {numbers} cannot be of this run and is left out.")

    def _go_on_from_log(self) -> float:
        """Go on from the last arrival where the computer's clock is behind it; by how many seconds it is."""
        if self.left_off is None:
            return 0.0
        behind_s = self._clock.go_on_from(self.left_off)
        if behind_s > STEP_S:
            self._adrift = True
            self.warn("clock", _clock_is_behind(behind_s))
        return behind_s

    def _catch_up_with(self, event: Event) -> None:
        """A device that knew the time before the restart knows it better than a computer whose clock is behind."""
        ahead = event.t - (self.plan.zero + self._now_us() * _MICROSECOND)
        if self._adrift and event.is_tap and AHEAD_S < ahead.total_seconds() <= DOWN_S:
            self._clock.go_on_from(event.t)

    def _engine_take(self, event: Event, now_us: int) -> None:
        self._engine_us = max(self._engine_us, now_us)
        self._engine.put(event)
        if not self._at_work:
            self._work()

    def _work(self) -> bool:
        """Go on with what an event began, a while at a time: taking back an old one may take long, and others wait."""
        until_s = self._clock.real_s() + SLICE_S
        while not self._engine.work(self._engine_us):
            if self._clock.real_s() > until_s and self._call_later is not None:
                self._at_work = True
                self._call_later(TURN_S, self._work_on)
                return False
        self._at_work = False
        return True

    def _work_on(self) -> None:
        if self._guarded(self._work):
            self._look()
            self.hub.publish(self.view)
            self._set_wake()

    def _advance(self) -> None:
        self._engine_us = max(self._engine_us, self._now_us())
        self._engine.advance(self._engine_us)

    def _advance_and_tell(self) -> None:
        self._guarded(self._advance)
        self._look()
        self.hub.publish(self.view)
        self._set_wake()

    def _look(self) -> None:
        """Keep what the engine shows; a failed engine goes on showing what it showed last."""
        self.view = self._guarded(self._engine.view) or self.view

    def _guarded(self, call: Callable[[], _Given]) -> _Given | None:
        """What an engine call gives; None for an engine that fails in it, or has failed, which is then left alone."""
        if self.fault:
            return None
        try:
            return call()
        except Exception as error:  # noqa: BLE001 - one run must not take others down, whatever its engine does
            _log.exception("run %s: the engine failed", self.run_id)
            self.fault = f"This run no longer follows its events ({error!r}); they are still written down."
            if self._wake is not None or self._beat is not None:
                self.hub.publish_fault(self.fault)
            return None

    def _set_wake(self) -> None:
        if self._wake is not None:
            self._wake.cancel()
            self._wake = None
        wake_us = self._guarded(self._engine.next_wake_us)
        if wake_us is not None and self._call_later is not None:
            self._wake = self._call_later(max(0.0, self._clock.seconds_until(wake_us, self.plan.zero)), self.wake)

    def _overdue_s(self) -> float:
        wake_us = self._guarded(self._engine.next_wake_us)
        return 0.0 if wake_us is None else -self._clock.seconds_until(wake_us, self.plan.zero)

    def _look_at_wall_clock(self) -> None:
        self._stepped_s += self._clock.step_s()
        if self._adrift and self._clock.behind_s() <= STEP_S:
            self._adrift = False
            self._clock.follow_wall()
            self.warn("clock", None)
        if abs(self._stepped_s) > STEP_S:
            self._write(self._clock_step(self._stepped_s))
            self._stepped_s = 0.0

    def _clock_step(self, seconds: float) -> Event:
        now = self.time_of(None)
        named = f"clock_step {rfc3339(now)}"
        return Event(id=named, t=now, kind="clock_step", source="contact:clock", seconds=round(seconds, 3))
