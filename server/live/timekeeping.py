"""A run's time: never before an event that was taken, whatever is done to the computer's clock."""

from datetime import datetime, timedelta

from server.clock import Clock
from server.timeline.events import Event, rfc3339
from server.timeline.plan import Plan

AHEAD_S = 2.0
"""An event may be this far ahead of the run's clock: what the clocks of desks and inputs differ by. Chosen."""

BEFORE_S = 12 * 3600.0
"""And this far before the motors' planned start, but for feeds that come and go. Chosen."""

STEP_S = 0.2
"""A wall clock that was set by more than this is told (the model's alarm `clock_step`)."""

DOWN_S = 3600.0
"""How far ahead of a clock known to be behind a tap is believed. Chosen: in a show a server is down for less."""

_MICROSECOND = timedelta(microseconds=1)


def untimely(event: Event, plan: Plan, now_s: float) -> str | None:
    """Say why an event cannot have happened when it says, as of `now_s` after the plan's zero; None where it can."""
    at_s = (event.t - plan.zero).total_seconds()
    if at_s > now_s + AHEAD_S:
        return f"t is {at_s - now_s:.1f} s in the future; accepted is up to {AHEAD_S:.0f} s"
    # A feed is told of only when it changes: one that is dead since the day before is never told again.
    if at_s < -BEFORE_S and event.kind not in {"feed_up", "feed_down"}:
        return f"t is more than {BEFORE_S / 3600:.0f} h before the motors start at {rfc3339(plan.zero)}"
    return None


def clock_is_behind(behind_s: float) -> str:
    """What desks say while the computer's clock is that far behind the log."""
    by = f"{behind_s / 60:.0f} min" if behind_s >= 90 else f"{behind_s:.1f} s"
    return (
        f"This computer's clock is {by} behind the last event of this run: times go on from that event. They lag by"
        " as long as the server was down. Set the computer's clock: the run follows by itself."
    )


class RunTime:
    """The time of one run, counted from its plan's `zero`; `arrived_us` is that of the last event that came."""

    def __init__(self, clock: Clock, zero: datetime) -> None:
        self.arrived_us = -round(BEFORE_S * 1e6)
        self._clock = clock
        self._zero = zero
        self._adrift = False
        self._stepped_s = 0.0

    def now_us(self) -> int:
        """Microseconds after zero; never before an event that was taken, whatever the clock says after a restart."""
        return max(self._clock.now_us(self._zero), self.arrived_us)

    def moment(self, at_us: int) -> datetime:
        """The same as a time of day."""
        return self._zero + at_us * _MICROSECOND

    def came(self, at: datetime) -> None:
        """An event of the log came at that time of the run."""
        self.arrived_us = max(self.arrived_us, (at - self._zero) // _MICROSECOND)

    def go_on_from(self, left_off: datetime) -> float:
        """Go on from the log's last arrival where the computer's clock is behind it; by how many seconds it is."""
        behind_s = self._clock.go_on_from(left_off)
        self._adrift = self._adrift or behind_s > STEP_S
        return behind_s

    def catch_up_with(self, event: Event) -> None:
        """A device that knew the time before the restart knows it better than a computer whose clock is behind."""
        ahead = event.t - self.moment(self.now_us())
        if self._adrift and event.is_tap and AHEAD_S < ahead.total_seconds() <= DOWN_S:
            self._clock.go_on_from(event.t)

    def has_caught_up(self) -> bool:
        """Whether the computer's clock was behind the log until now, and is followed from here on."""
        if not self._adrift or self._clock.behind_s() > STEP_S:
            return False
        self._adrift = False
        self._clock.follow_wall()
        return True

    def stepped_s(self) -> float:
        """How far the computer's clock was set since it was told last, once that is worth telling; else 0.

        To be asked about once a second.
        """
        self._stepped_s += self._clock.step_s()
        if abs(self._stepped_s) <= STEP_S:
            return 0.0
        stepped_s, self._stepped_s = self._stepped_s, 0.0
        return stepped_s
