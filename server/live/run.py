"""One run while it is live: every event in one order, on disk before it counts, then into the engine and out."""

import asyncio
import logging
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from server.clock import Clock
from server.live.follower import Follower
from server.live.hub import EVENTS_SHOWN, Hub
from server.live.information import run_info
from server.live.parts import CallLater, Log, Refused, Stored, Taken, Timeline, Timer
from server.live.timekeeping import STEP_S, RunTime, clock_is_behind, untimely
from server.live.unwritten import Unwritten
from server.timeline.engine import Engine
from server.timeline.events import Event, EventFault, json_from_event, rfc3339
from server.timeline.faults import both
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock
from server.timeline.view import RunView

BEAT_S = 1.0
"""Between two heartbeats, in real seconds."""

STUCK_S = 1.0
"""How long an event that is on its way to the disk may hold up the engine's time, in real seconds. Chosen."""

SLOW = "The disk has not answered for over a second: it may be full, locked by another program, or failing."

_log = logging.getLogger(__name__)


class _Coming(NamedTuple):
    """An event on its way to the disk, the run's time at which it came, and its answer."""

    event: Event
    arrived_us: int
    answer: asyncio.Future[Taken | Refused]


class LiveRun:
    """One run, from its log on.

    `start` reads the log and must be called in the running loop. `stop` ends the timers, and what is still on its way
    to the disk is written and answered. `call_later` is the loop's unless given. A run whose engine fails says so in
    `fault`, to its desks too, goes on writing down what happens, and disturbs no other run. `view` is the run as its
    engine had it last, `info` what a desk needs of its plan. `events` are those that count, in the order in which they
    came. The first `stored` of them are from before this start, and the last of those was taken at `left_off`.

    While the log cannot be written what is observed counts and is not taken. Whoever sent it, and every desk, is shown
    so. It is written down once it can be. `warnings` are what every desk says of the run beside its alarms.
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
        call_later: CallLater | None = None,
    ) -> None:
        self.run_id = run_id
        self.plan = plan
        self.hub = hub
        self.info = run_info(run_id, plan, clock.rate, demo)
        self._clock = clock
        self._log = log
        self._call_later = call_later
        self._time = RunTime(clock, plan.zero)
        self._follower = Follower(
            run_id, engine or Engine(plan), clock, plan.zero, self._time.arrived_us, self._engine_failed
        )
        self.events: list[Event] = []
        self.stored = 0
        self.left_off: datetime | None = None
        self._taken: dict[str, Taken] = {}
        self._coming: dict[str, _Coming] = {}
        self._unwritten = Unwritten()
        self.warnings: dict[str, str] = {}
        self._untold: list[tuple[Taken, asyncio.Future[Taken | Refused] | None]] = []
        self._is_shown = False
        self._beat: Timer | None = None

    @property
    def view(self) -> RunView:
        """The run as its engine had it last."""
        return self._follower.view

    @property
    def fault(self) -> str | None:
        """Why the run no longer follows its events, in one sentence; None while it does."""
        return self._follower.fault

    def start(self) -> None:
        """Replay the log into the engine, bring it up to now, and begin to keep time."""
        self._call_later = self._call_later or asyncio.get_running_loop().call_later
        self._rebuild(self._log.events(self.run_id))
        self._follower.begin(self._call_later, self.wake, self._show)
        behind_s = self._go_on_from_log()
        self._follower.advance(self._time.now_us())
        view = self._follower.look()
        last = list(self._taken.values())[-EVENTS_SHOWN:]
        self.hub.open(self.info, view, (json_from_event(taken.event) for taken in last), self.now_s)
        self._is_shown = True
        if self.fault:
            self.hub.publish_fault(self.fault)
        self.hub.publish_warnings(list(self.warnings.values()))
        self._follower.set_wake()
        self._beat = self._call_later(BEAT_S, self.beat)
        if behind_s > STEP_S:
            self._write(self._clock_step(-behind_s))

    def stop(self) -> None:
        """End the timers."""
        if self._unwritten:
            _log.error("run %s: %d events were never written down", self.run_id, len(self._unwritten))
        self._follower.end()
        if self._beat is not None:
            self._beat.cancel()
        self._beat = self._call_later = None

    def snapshot(self) -> bytes:
        """The message that a new desk begins with."""
        return self.hub.snapshot()

    def now_s(self) -> float:
        """The run's time, in seconds after `plan.zero`."""
        return self._time.now_us() / 1e6

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
        return self._time.moment(self._time.now_us())

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
            self._advance_and_show()

    def beat(self) -> None:
        """Once a second: the heartbeat, a look at the wall clock, and a wake-up that something held back."""
        self.hub.beat()
        self._look_at_wall_clock()
        self._count_what_is_stuck()
        self._write_again()
        if self._follower.overdue_s() > STUCK_S:
            self._advance_and_show()
        if self._call_later is not None:
            self._beat = self._call_later(BEAT_S, self.beat)

    def _refusal(self, event: Event) -> str | None:
        if event.id in self._taken or self._unwritten.get(event.id):
            return f"id: found {event.id!r} again with other contents; the first one stands"
        self._time.catch_up_with(event)
        return untimely(event, self.plan, self.now_s()) or self._follower.refusal(event)

    def _write(self, event: Event) -> asyncio.Future[Taken | Refused]:
        """Put an event on its way to the disk; the result is its answer.

        Behind others that could not be written it counts at once, and is written after them.
        """
        arrived_us = self._time.arrived_us = self._time.now_us()
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
        writing = self._log.append(self.run_id, event, self._time.moment(arrived_us))
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
            self._follower.take(event, arrived_us)
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
        self._follower.take(event, arrived_us)
        self._say_unwritten()
        self._show()

    def _count_what_is_stuck(self) -> None:
        """Let what has been on its way to the disk for too long count as it is."""
        for coming in list(self._coming.values()):
            if (self._time.now_us() - coming.arrived_us) / 1e6 / self._clock.rate > STUCK_S:
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
            self._follower.set_wake()
            self.hub.publish(self._follower.look(), [json_from_event(taken.event) for taken, _ in untold])
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
            self._time.came(one.arrived)
            self.left_off = one.arrived
        self.stored = len(self.events)
        if not stored:
            return
        refused = self._follower.rebuild(self.events, self._time.arrived_us)
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
        behind_s = self._time.go_on_from(self.left_off)
        if behind_s > STEP_S:
            self.warn("clock", clock_is_behind(behind_s))
        return behind_s

    def _advance_and_show(self) -> None:
        self._follower.advance(self._time.now_us())
        self._show()

    def _show(self) -> None:
        """Tell the desks what is otherwise now, and when time next matters."""
        self.hub.publish(self._follower.look())
        self._follower.set_wake()

    def _engine_failed(self, why: str) -> None:
        if self._is_shown:
            self.hub.publish_fault(why)

    def _look_at_wall_clock(self) -> None:
        stepped_s = self._time.stepped_s()
        if self._time.has_caught_up():
            self.warn("clock", None)
        if stepped_s:
            self._write(self._clock_step(stepped_s))

    def _clock_step(self, seconds: float) -> Event:
        now = self.time_of(None)
        named = f"clock_step {rfc3339(now)}"
        return Event(id=named, t=now, kind="clock_step", source="contact:clock", seconds=round(seconds, 3))
