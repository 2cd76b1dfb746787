"""Levels as functions of time: what a condition says, from now until the next event.

A `Steps` is a run of (instant, level) in order of time; the level holds from its instant on, and is None before the
first. Instants are microseconds after `motors_at`, so that an alarm goes off at one exact instant however often, or
seldom, somebody asks.
"""

import math
from collections.abc import Iterable, Sequence

from server.timeline.estimate import US_PER_S
from server.timeline.view import Level

Steps = tuple[tuple[int, Level | None], ...]

ALWAYS_US = -(2**62)
# A value this close to a threshold is at it: sums of seconds are not exact.
_AT = 1e-9


def level_at(steps: Steps, at_us: int) -> Level | None:
    """Return the level that holds at an instant."""
    level: Level | None = None
    for since_us, step in steps:
        if since_us > at_us:
            break
        level = step
    return level


def until(steps: Steps, end_us: int | None) -> Steps:
    """Cut steps off at `end_us`, from which there is no level; None leaves them as they are."""
    if end_us is None or not steps:
        return steps
    return (*(step for step in steps if step[0] < end_us), (end_us, None))


def delayed(steps: Steps, since_us: int) -> Steps:
    """Let no level begin before `since_us`; the one that would hold by then begins there."""
    held = level_at(steps, since_us)
    return ((since_us, held), *(step for step in steps if step[0] > since_us))


def steps_of_line(
    value: float, slope_per_s: float, at_us: int, thresholds: Sequence[tuple[float, Level]], *, reached: bool
) -> Steps:
    """Return the levels of a value that moves along a straight line through `value` at `at_us`.

    `thresholds` rise with their levels. With `reached` a level holds from its threshold on; without it, only above.
    """
    margin = -_AT if reached else _AT
    if slope_per_s == 0.0:
        return ((ALWAYS_US, _level_over(value, thresholds, margin)),)
    crossings = [
        (at_us + math.ceil((threshold + margin - value) / slope_per_s * US_PER_S), level)
        for threshold, level in thresholds
    ]
    if slope_per_s > 0.0:
        return tuple(crossings)
    return tuple(_falling(crossings))


def _level_over(value: float, thresholds: Sequence[tuple[float, Level]], margin: float) -> Level | None:
    over = [level for threshold, level in thresholds if value >= threshold + margin]
    return over[-1] if over else None


def _falling(crossings: list[tuple[int, Level]]) -> Iterable[tuple[int, Level | None]]:
    since_us = ALWAYS_US
    for crossing_us, level in reversed(crossings):
        yield since_us, level
        since_us = crossing_us
    yield since_us, None
