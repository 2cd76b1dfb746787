"""Times as paper says them: the house's clock, with the day where that is another than the one it stands under.

A time is rounded to the side on which nobody is late by it: what opens, ends or clears up, what closes or comes down.
"""

import math
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Final

from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

_MINUTE_S: Final = 60.0
_HOUR_S: Final = 3600.0
_SAME_S: Final = 1e-6  # chosen: a microsecond, the finest that a plan writes, is no difference


def second_up(seconds: float) -> int:
    """Return the whole second that is not before."""
    return math.ceil(seconds - _SAME_S)


def second_down(seconds: float) -> int:
    """Return the whole second that is not after."""
    return math.floor(seconds + _SAME_S)


def day_of(plan: Plan, seconds: float) -> date:
    """Return the day of the house's clock, so many seconds after `motors_at`."""
    return house_clock(plan, seconds).date()


def day_text(day: date) -> str:
    """Say a day in full: "Saturday 28 November 2026"."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def short_day(day: date) -> str:
    """Say a day in short: "Sat 28 Nov"."""
    return f"{day:%a} {day.day} {day:%b}"


def clock_s(plan: Plan, seconds: int, day: date | None = None) -> str:
    """Say the clock to the second; with its day where that is not `day`, which is that of `motors_at` by default."""
    return _with_day(f"{house_clock(plan, seconds):%H:%M:%S}", house_clock(plan, seconds), day or day_of(plan, 0.0))


def clock_min(plan: Plan, seconds: float, day: date | None = None, *, up: bool = False) -> str:
    """Say the clock to the minute that is not after, or not before (`up`); with its day as `clock_s` has it."""
    moment = house_clock(plan, second_up(seconds) if up else second_down(seconds))
    past_s = moment.second
    if up and past_s:
        moment = house_clock(plan, second_up(seconds) + _MINUTE_S - past_s)
    return _with_day(f"{moment:%H:%M}", moment, day or day_of(plan, 0.0))


def _with_day(clock: str, moment: datetime, day: date) -> str:
    return clock if moment.date() == day else f"{clock} on {short_day(moment.date())}"


def clocks_s(plan: Plan, seconds: Iterable[int]) -> Iterator[str]:
    """Say clocks that stand in one row: each with its day where that is not the day of the one before."""
    day = day_of(plan, 0.0)
    for at_s in seconds:
        yield clock_s(plan, at_s, day)
        day = day_of(plan, at_s)


def length_text(seconds: float) -> str:
    """Say running time as `m:ss` or `h:mm:ss`, to the nearest second."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes_left = divmod(minutes, 60)
    return f"{hours}:{minutes_left:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def wait_text(seconds: float) -> str:
    """Say how long nothing is to be done: "1 h 42 min"."""
    hours, rest_s = divmod(seconds, _HOUR_S)
    minutes = f"{rest_s // _MINUTE_S:.0f} min"
    return f"{hours:.0f} h {minutes}" if hours else minutes
