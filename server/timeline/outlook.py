"""The estimate in the shape in which everything else asks for it."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class LinkOutlook(NamedTuple):
    """What an `Outlook` says of one link, by its index."""

    link: int
    slack: float
    drift: float
    slack_var: tuple[float, float, float, float]


class Slacks(NamedTuple):
    """What an `Outlook` says of all links, as arrays: (links,), (links,) and (links, 4)."""

    slack: Array
    drift: Array
    var: Array


class Splice(NamedTuple):
    """What is known of the print's length up to a splice that the plan does not have: all before it are in it.

    What is planned to lie `from_s` or more behind the first frame lies `by_s` further back. For a pass of that, `var`
    is what it adds to `a` and `b` at each gate (empty where it is certain), and `with_tail` what it adds to `a` beside
    the error of the tail. `own_var` is its own variance.
    """

    from_s: float
    by_s: float
    var: Sequence[tuple[float, float]]
    with_tail: float
    own_var: float = 0.0


class Outlook(NamedTuple):
    """The state as of `at_us`, in the shape that everything else asks for; lists have one entry a station or link.

    `fed_s` (the counts) and `rate` are those of the model (rate 0.0 while the motor stands); `gate_s` is the film
    between the first gate and each gate, path error included. A pass `d` seconds on has variance
    `(a + b d + c d^2 + w d^3) / rate^2` with `eta_var = (a, b, c, w)`; slack `d` seconds on has mean
    `slack + d drift` and variance likewise by `slack_var`. The film's end lies `film_end_s + tail_s` behind the first
    gate, and `tail_var` is what that adds to `a` and `b`; without them no mark is the film's end. `splices` are
    those that the plan does not have, in film order.
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
    splices: Sequence[Splice] = ()

    def further_back_s(self, x_s: float) -> float:
        """Return by how much more than planned lies behind the first gate what was planned to lie `x_s` behind it."""
        longer_s = self.tail_s if x_s >= self.film_end_s else 0.0
        splice = self._before(x_s) if self.splices else None
        return longer_s if splice is None else longer_s + splice.by_s

    def _before(self, x_s: float) -> Splice | None:
        """The last splice before what lies `x_s` behind the first gate."""
        return next((splice for splice in reversed(self.splices) if splice.from_s <= x_s), None)

    def pass_var(self, station: int, x_s: float) -> tuple[float, float, float, float]:
        """Return `(a, b, c, w)` for a pass of what lies `x_s` behind the first gate, the film's end included."""
        a, b, c, w = self.eta_var[station]
        splice, ends = self._before(x_s) if self.splices else None, x_s >= self.film_end_s
        for more in ((splice.var if splice is not None else ()), (self.tail_var if ends else ())):
            if more:
                a, b = a + more[station][0], b + more[station][1]
        return a + (splice.with_tail if splice is not None and ends else 0.0), b, c, w

    def of_link(self, i: int) -> LinkOutlook:
        """Return what it says of one link."""
        return LinkOutlook(i, self.slack[i], self.drift[i], self.slack_var[i])

    def links_beside(self, station: int) -> list[LinkOutlook]:
        """Return the same of the links on either side of a station."""
        return [self.of_link(i) for i in (station - 1, station) if 0 <= i < len(self.slack)]


def variance_at(coefficients: Sequence[float], after_s: float) -> float:
    """Return `a + b d + c d^2 + w d^3` for `d` seconds after the outlook, not below zero; nothing wanders backward."""
    a, b, c, w = coefficients
    wander = w * after_s**3 if after_s > 0.0 else 0.0
    return max(a + after_s * (b + after_s * c) + wander, 0.0)
