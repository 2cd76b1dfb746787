"""The film that one motor has fed, as a function of time, in closed form.

A curve is a row of segments. Within each the velocity is a straight line in time, so the count is a parabola. It is
integrated, evaluated and inverted exactly. A three-hour show needs a few thousand segments, not 260,000 frames.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]
Places: TypeAlias = NDArray[np.intp]


@dataclass(frozen=True)
class Curve:
    """Film fed, in seconds of film.

    `at_s` (n+1,) are the segments' borders, rising. `velocity` and `velocity_end` (n,) are film seconds per second just
    after the border and just before the next one, never negative. `count_s` (n+1,) is the film fed at each border.
    Before the first border the film stands; after the last one too.
    """

    at_s: Floats
    velocity: Floats
    velocity_end: Floats
    count_s: Floats

    def count(self, t_s: Floats) -> Floats:
        """Film fed by each of the times (any shape)."""
        t_s = np.clip(t_s, self.at_s[0], self.at_s[-1])
        j = self._segment(t_s)
        u = t_s - self.at_s[j]
        slope = (self.velocity_end[j] - self.velocity[j]) / (self.at_s[j + 1] - self.at_s[j])
        return np.asarray(self.count_s[j] + u * (self.velocity[j] + 0.5 * slope * u), dtype=np.float64)

    def count_at(self, t_s: float) -> float:
        """Film fed by one time."""
        return float(self.count(np.array(t_s)))

    def rate(self, t_s: Floats) -> Floats:
        """Film seconds per second just after each of the times."""
        j = self._segment(np.clip(t_s, self.at_s[0], self.at_s[-1]))
        share = (t_s - self.at_s[j]) / (self.at_s[j + 1] - self.at_s[j])
        inside = (t_s >= self.at_s[0]) & (t_s < self.at_s[-1])
        return np.where(inside, self.velocity[j] + share * (self.velocity_end[j] - self.velocity[j]), 0.0)

    def time_at(self, count_s: float) -> float | None:
        """The first time at which that much film has been fed, or None where it never is."""
        if count_s > self.count_s[-1]:
            return None
        if count_s <= self.count_s[0]:
            return float(self.at_s[0])
        j = int(np.searchsorted(self.count_s, count_s, side="left")) - 1
        return float(self.at_s[j]) + self._time_within(j, count_s - float(self.count_s[j]))

    def _segment(self, t_s: Floats) -> Places:
        j = np.searchsorted(self.at_s, t_s, side="right") - 1
        return np.clip(j, 0, len(self.velocity) - 1)

    def _time_within(self, j: int, fed_s: float) -> float:
        """Root of v u + a u²/2 = fed, in the form that does not cancel where a is small."""
        length_s = float(self.at_s[j + 1] - self.at_s[j])
        v = float(self.velocity[j])
        a = (float(self.velocity_end[j]) - v) / length_s
        root = max(0.0, v * v + 2.0 * a * fed_s) ** 0.5
        return min(length_s, 2.0 * fed_s / (v + root)) if v + root > 0.0 else length_s


def curve_from_velocities(at_s: Floats, velocity: Floats, velocity_end: Floats) -> Curve:
    """Integrate straight pieces of velocity into a curve that starts at 0."""
    fed = 0.5 * (velocity + velocity_end) * np.diff(at_s)
    return Curve(at_s, velocity, velocity_end, np.concatenate(([0.0], np.cumsum(fed))))


def slack_s(upstream: Curve, downstream: Curve, t_s: Floats) -> Floats:
    """Film in the link over (+) or under (-) what was threaded, at each time."""
    return upstream.count(t_s) - downstream.count(t_s)


def first_past_s(
    upstream: Curve, downstream: Curve, reserve_s: float, from_s: float, until_s: float
) -> tuple[float, float] | None:
    """When slack is first past the reserve either way within the span, and slack then; None where it never is."""
    borders = np.union1d(upstream.at_s, downstream.at_s)
    t_s = np.concatenate(([from_s], borders[(borders > from_s) & (borders < until_s)], [until_s]))
    past = np.abs(slack_s(upstream, downstream, t_s)) >= reserve_s
    j = int(np.argmax(past))
    if not past[j]:
        return None
    at_s = from_s if j == 0 else _crossing_s(upstream, downstream, reserve_s, float(t_s[j - 1]), float(t_s[j]))
    return at_s, upstream.count_at(at_s) - downstream.count_at(at_s)


def _crossing_s(upstream: Curve, downstream: Curve, reserve_s: float, low_s: float, high_s: float) -> float:
    """The crossing between a time inside the reserve and one past it, to a nanosecond, by halving."""
    while high_s - low_s > 1e-9 * max(1.0, abs(high_s)) ** 0.5:
        middle_s = 0.5 * (low_s + high_s)
        inside = abs(upstream.count_at(middle_s) - downstream.count_at(middle_s)) < reserve_s
        low_s, high_s = (middle_s, high_s) if inside else (low_s, middle_s)
    return high_s
