"""The estimate in the shape in which everything else asks for it."""

import math
from collections.abc import Sequence
from typing import NamedTuple


class LinkOutlook(NamedTuple):
    """What an `Outlook` says of one link, by its index."""

    link: int
    slack: float
    drift: float
    slack_var: tuple[float, float, float, float]


class Outlook(NamedTuple):
    """The state as of `at_us`, in the shape that everything else asks for; lists have one entry a station or link.

    `fed_s` (the counts) and `rate` are those of the model (rate 0.0 while the motor stands); `gate_s` is the film
    between the first gate and each gate, path error included. A pass `d` seconds on has variance
    `(a + b d + c d^2 + w d^3) / rate^2` with `eta_var = (a, b, c, w)`; slack `d` seconds on has mean
    `slack + d drift` and variance likewise by `slack_var`. The film's end lies `film_end_s + tail_s` behind the first
    gate, and `tail_var` is what that adds to `a` and `b`; without them no mark is the film's end.
    """

    at_us: int
    fed_s: list[float]
    rate: list[float]
    gate_s: list[float]
    eta_var: list[tuple[float, float, float, float]]
    slack: list[float]
    drift: list[float]
    slack_var: list[tuple[float, float, float, float]]
    film_end_s: float = math.inf
    tail_s: float = 0.0
    tail_var: Sequence[tuple[float, float]] = ()

    def pass_var(self, station: int, x_s: float) -> tuple[float, float, float, float]:
        """Return `(a, b, c, w)` for a pass of what lies `x_s` behind the first gate, the film's end included."""
        a, b, c, w = self.eta_var[station]
        if x_s < self.film_end_s:
            return a, b, c, w
        more_a, more_b = self.tail_var[station]
        return a + more_a, b + more_b, c, w

    def of_link(self, i: int) -> LinkOutlook:
        """Return what it says of one link."""
        return LinkOutlook(i, self.slack[i], self.drift[i], self.slack_var[i])

    def links_beside(self, station: int) -> list[LinkOutlook]:
        """Return the same of the links on either side of a station."""
        return [self.of_link(i) for i in (station - 1, station) if 0 <= i < len(self.slack)]


def variance_at(coefficients: tuple[float, float, float, float], after_s: float) -> float:
    """Return `a + b d + c d^2 + w d^3` for `d` seconds after the outlook, not below zero; nothing wanders backward."""
    a, b, c, w = coefficients
    wander = w * after_s**3 if after_s > 0.0 else 0.0
    return max(a + after_s * (b + after_s * c) + wander, 0.0)
