"""The only reader of time: a wall clock that is read once and then carried by a clock that cannot be set."""

import ctypes
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_TIMEX_BYTES = 512
"""More than a `struct timex` has anywhere; all zero it asks, and sets nothing."""

_TIME_ERROR = 5
"""adjtimex(2): the clock is not synchronized."""


class Clock:
    """The time of one run: the wall's at first, then carried on by a steady source, whatever becomes of the wall clock.

    `start` (aware) is what the clock shows now, the wall's time if None; `rate` is seconds of run for each real second.
    `wall_ns` (since 1970, UTC) and `steady_ns` (from any zero) are the two sources. Give each run its own clock: what
    `step_s` has told, it does not tell again. A computer that slept shows as a step forward of the wall clock. The
    steady source stood still, and only a restart sets the run's time right.
    """

    def __init__(
        self,
        start: datetime | None = None,
        rate: float = 1.0,
        *,
        wall_ns: Callable[[], int] = time.time_ns,
        steady_ns: Callable[[], int] = time.monotonic_ns,
    ) -> None:
        if not rate > 0.0:
            raise ValueError(f"a clock runs at a rate above 0, not {rate}")
        self.rate = rate
        self._wall_ns = wall_ns
        self._steady_ns = steady_ns
        self._follows_wall = start is None and rate == 1.0
        self._zero_ns = steady_ns()
        wall = wall_ns()
        self._behind_ns = wall - self._zero_ns
        self._start = _EPOCH + (wall // 1000) * _MICROSECOND if start is None else start.astimezone(UTC)

    def now(self) -> datetime:
        """The run's time, UTC, to the microsecond; it never goes back."""
        passed_ns = self._steady_ns() - self._zero_ns
        passed_us = passed_ns // 1000 if self.rate == 1.0 else int(passed_ns * self.rate / 1000)
        return self._start + passed_us * _MICROSECOND

    def now_us(self, zero: datetime) -> int:
        """The run's time as whole microseconds after `zero` (aware)."""
        return (self.now() - zero) // _MICROSECOND

    def seconds_until(self, at_us: int, zero: datetime) -> float:
        """Real seconds until the run's time is `at_us` after `zero`; below 0 when that is past."""
        return (at_us - self.now_us(zero)) / 1e6 / self.rate

    def go_on_from(self, at: datetime) -> float:
        """Show `at` (aware) now, if that is later than what is shown; by how many seconds the clock was moved."""
        ahead = at - self.now()
        if ahead <= timedelta(0):
            return 0.0
        self._start += ahead
        return ahead.total_seconds()

    def behind_s(self) -> float:
        """How far the wall's clock is behind this one, in seconds; 0.0 for one that never followed the wall's."""
        return self._ahead_of_wall().total_seconds() if self._follows_wall else 0.0

    def follow_wall(self) -> None:
        """Show the wall's time, if that is later than what is shown: this clock never goes back."""
        if self._follows_wall:
            self._start -= min(self._ahead_of_wall(), timedelta(0))

    def _ahead_of_wall(self) -> timedelta:
        return self.now() - (_EPOCH + (self._wall_ns() // 1000) * _MICROSECOND)

    def real_s(self) -> float:
        """Real seconds from any zero, whatever the rate: for how long something takes."""
        return self._steady_ns() / 1e9

    def step_s(self) -> float:
        """How far the wall clock was set, in seconds, since this was last asked: + is forward.

        A few microseconds either way mean nothing (two clocks are never read at one instant). Always 0.0 for a clock
        with a start or a rate of its own, which has nothing to do with the wall's.
        """
        if not self._follows_wall:
            return 0.0
        behind_ns = self._wall_ns() - self._steady_ns()
        step_s = (behind_ns - self._behind_ns) / 1e9
        self._behind_ns = behind_ns
        return step_s


def is_kept_in_step() -> bool | None:
    """Whether the system says that this computer's clock is kept in step with others (Linux, adjtimex(2)).

    None where the system does not say.
    """
    try:
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(_TIMEX_BYTES))
    except (AttributeError, OSError, TypeError):
        return None
    return None if state < 0 else state != _TIME_ERROR
