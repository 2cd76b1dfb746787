"""A run's engine at work: its failures stay with its run, long work is done a while at a time, and it has one timer."""

import logging
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TypeVar

from server.clock import Clock
from server.live.parts import CallLater, Timeline, Timer
from server.timeline.events import Event
from server.timeline.view import RunView

SLICE_S = 0.01
"""How long the engine may work on one event before others have their turn. Chosen: nobody sees it."""

TURN_S = 0.005
"""And how long these have it, in real seconds. Chosen: a tap is answered in a millisecond."""

_Given = TypeVar("_Given")
_log = logging.getLogger(__name__)


class Follower:
    """An engine that follows a run from `from_us` after `zero` on; times are microseconds after it.

    `view` is what the engine showed when it was looked at last. `fault` is None while it works, else one sentence. A
    failed engine is left alone and goes on showing what it had, and `failed` is called once with that sentence.
    """

    def __init__(
        self, run_id: str, engine: Timeline, clock: Clock, zero: datetime, from_us: int, failed: Callable[[str], None]
    ) -> None:
        self.fault: str | None = None
        self.view = RunView(0.0, (), (), (), (), {})
        self._run_id = run_id
        self._engine = engine
        self._clock = clock
        self._zero = zero
        self._us = from_us
        self._failed = failed
        self._at_work = False
        self._wake: Timer | None = None
        self._call_later: CallLater | None = None

    def begin(self, call_later: CallLater, wake: Callable[[], None], worked: Callable[[], None]) -> None:
        """Have `wake` called when time next matters, and `worked` when work that took longer than its slice is done."""
        self._call_later = call_later
        self._woken = wake
        self._worked = worked

    def end(self) -> None:
        """End the timer, and work on nothing more."""
        if self._wake is not None:
            self._wake.cancel()
        self._wake = self._call_later = None

    def rebuild(self, events: Sequence[Event], at_us: int) -> Sequence[tuple[Event, str]]:
        """Know the events of a log, as of `at_us`; those that cannot be of this run, and why."""
        self._us = max(self._us, at_us)
        return self._guarded(lambda: self._engine.take_all(events, self._us)) or ()

    def refusal(self, event: Event) -> str | None:
        """As `Timeline`; None too where the engine failed."""
        return self._guarded(lambda: self._engine.refusal(event))

    def take(self, event: Event, now_us: int) -> None:
        """Take an event that came at `now_us`; taking back an old one may take long, and is then gone on with later."""
        self._us = max(self._us, now_us)
        self._guarded(lambda: self._engine.put(event))
        if not self._at_work:
            self._guarded(self._work)

    def advance(self, now_us: int) -> None:
        """Let time pass until `now_us`."""
        self._us = max(self._us, now_us)
        self._guarded(lambda: self._engine.advance(self._us))

    def look(self) -> RunView:
        """Keep what the engine shows."""
        self.view = self._guarded(self._engine.view) or self.view
        return self.view

    def set_wake(self) -> None:
        """Set the timer to when time next matters."""
        if self._wake is not None:
            self._wake.cancel()
            self._wake = None
        wake_us = self._guarded(self._engine.next_wake_us)
        if wake_us is not None and self._call_later is not None:
            self._wake = self._call_later(max(0.0, self._clock.seconds_until(wake_us, self._zero)), self._woken)

    def overdue_s(self) -> float:
        """For how many real seconds time has mattered by now; 0 or less where it does not yet."""
        wake_us = self._guarded(self._engine.next_wake_us)
        return 0.0 if wake_us is None else -self._clock.seconds_until(wake_us, self._zero)

    def _work(self) -> bool:
        """Go on with what an event began, a while at a time; whether it is done."""
        until_s = self._clock.real_s() + SLICE_S
        while not self._engine.work(self._us):
            if self._clock.real_s() > until_s and self._call_later is not None:
                self._at_work = True
                self._call_later(TURN_S, self._work_on)
                return False
        self._at_work = False
        return True

    def _work_on(self) -> None:
        if self._guarded(self._work):
            self._worked()

    def _guarded(self, call: Callable[[], _Given]) -> _Given | None:
        """What an engine call gives; None for an engine that fails in it, or has failed, which is then left alone."""
        if self.fault:
            return None
        try:
            return call()
        except Exception as error:  # noqa: BLE001 - one run must not take others down, whatever its engine does
            _log.exception("run %s: the engine failed", self._run_id)
            self.fault = f"This run no longer follows its events ({error!r}); they are still written down."
            self._failed(self.fault)
            return None
