"""The best that can be known of a show by somebody who is told its fault: the kind, where, since when, not how much.

It is the truth bench's batch solution with the fault's size as one unknown more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.bench.truth.batch import Array, Batch

KNOWN_SD = 4.0
"""A fault could be known once its size is so many standard deviations from none. Chosen."""

RAMP_S = 1200.0
"""A motor that slows does so over twenty minutes."""

Shape = Literal["none", "start", "jump", "rate", "ramp"]


@dataclass(frozen=True)
class Effect:
    """What one unit of a fault does, and what is taken for granted of its size: `mean` give or take `sigma`.

    To the counts of `stations` it adds by its `shape`: once at each start, once at `at_s`, at an even rate from `at_s`
    on, or at a rate that rises to that over RAMP_S. Passes that `source` tells, of `station` alone where that is given,
    it dates later from `at_s` on. `link` is the path whose transit it adds to, `splice_s` from where on the print lies
    further back. A `sigma` of 0 is a fault without a size.
    """

    sigma: float = 0.0
    mean: float = 0.0
    at_s: float = -np.inf
    shape: Shape = "none"
    stations: frozenset[int] = frozenset()
    source: str | None = None
    station: str | None = None
    link: int | None = None
    splice_s: float = np.inf

    @property
    def moves_slack(self) -> bool:
        """Whether it is one motor's, and so changes what links hold."""
        return self.shape in {"jump", "rate", "ramp"} and len(self.stations) == 1

    def added_s(self, from_s: float, until_s: float) -> float:
        """Film that a unit adds to the count of a motor that runs in that time."""
        match self.shape:
            case "none":
                return 0.0
            case "start":
                return 1.0
            case "jump":
                return float(from_s <= self.at_s < until_s)
            case "rate":
                return max(until_s - max(from_s, self.at_s), 0.0)
            case "ramp":
                return self._ramped_s(until_s) - self._ramped_s(from_s)

    def _ramped_s(self, until_s: float) -> float:
        since_s = max(until_s - self.at_s, 0.0)
        return 0.5 * min(since_s, RAMP_S) ** 2 / RAMP_S + max(since_s - RAMP_S, 0.0)

    def rate(self, at_s: float) -> float:
        """How fast a unit adds film to the count of a motor that runs."""
        if self.shape == "ramp":
            return min(max((at_s - self.at_s) / RAMP_S, 0.0), 1.0)
        return float(self.shape == "rate" and at_s >= self.at_s)

    def is_late(self, event: Event, at_s: float) -> bool:
        """Whether it dates this pass, which was told for `at_s`."""
        told_so = self.source is not None and event.source == self.source
        return told_so and self.station in {None, event.station} and at_s >= self.at_s


class Size(NamedTuple):
    """What is known of a fault's size by all that was seen until `at_s`."""

    at_s: float
    mean: float
    sd: float

    @property
    def is_known(self) -> bool:
        return abs(self.mean) >= KNOWN_SD * self.sd


class FaultBatch(Batch):
    """The solution for one show; `events` are the true ones, in order of time."""

    def __init__(self, plan: Plan, events: Sequence[Event], effect: Effect) -> None:
        self._effect = effect
        super().__init__(plan, events, spliced_s=effect.splice_s)

    def _size_unknown(self) -> int:
        """Which of the unknowns is the size: the fault's own, a path's error, or the splice's."""
        if self._effect.link is not None:
            return 2 + self._n + self._effect.link
        return 1 + 2 * self._n if np.isfinite(self._effect.splice_s) else 0

    def _priors(self) -> list[float]:
        variances = super()._priors()
        if self._effect.sigma > 0.0:
            variances[self._size_unknown()] = self._effect.sigma**2
        return variances

    def _ran(self, k: int, at_s: float) -> tuple[float, float]:
        ran_s, _ = super()._ran(k, at_s)
        if k not in self._effect.stations:
            return ran_s, 0.0
        return ran_s, sum(self._effect.added_s(from_s, until_s) for from_s, until_s in self._spells(k, at_s))

    def _row(self, at_s: float, event: Event) -> tuple[Array, float, Array, Array]:
        row, value, signs, ran = super()._row(at_s, event)
        if event.kind == "mark_pass" and self._effect.is_late(event, at_s):
            row[0] -= 1.0
        return row, value, signs, ran

    def _targets(self, at_s: float) -> tuple[Array, tuple[Array, Array], Array]:
        rows, walks, own = super()._targets(at_s)
        rates = np.array(
            [self._effect.rate(at_s) * (k in self._effect.stations and self._runs(k, at_s)) for k in range(self._n)]
        )
        rows[self._n - 1 :, 0] = rates[:-1] - rates[1:]
        return rows, walks, own

    def sizes(self) -> list[Size]:
        """What is known of the size after each piece of evidence, in order of time.

        The leading part of a Cholesky factor is the factor of the leading part, so one serves for all.
        """
        unknown = self._size_unknown()
        variance = self._variances[unknown]
        factor = cholesky(self._cov, lower=True)
        seen, shown = (
            solve_triangular(factor, column, lower=True) for column in (self._values, variance * self._rows[:, unknown])
        )
        means = self._effect.mean + np.cumsum(seen * shown)
        sds = np.sqrt(np.maximum(variance - np.cumsum(shown**2), 0.0))
        return [Size(*size) for size in zip(self.at_s.tolist(), means.tolist(), sds.tolist(), strict=True)]

    def known_s(self, since_s: float) -> float | None:
        """When the size could first be known; None where it never could. `since_s` is when the fault is there."""
        if self._effect.sigma <= 0.0:
            raise ValueError("found a fault without a size; accepted one whose `sigma` is over 0")
        if abs(self._effect.mean) >= KNOWN_SD * self._effect.sigma:
            return since_s
        return next((size.at_s for size in self.sizes() if size.at_s >= since_s and size.is_known), None)
