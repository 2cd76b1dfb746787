"""What is to come by one estimate: when marks pass, when reserves are gone, and what else may be supposed.

Each answer is worked out once, when it is first asked for.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from server.timeline.estimate import US_PER_S, Array, Estimate
from server.timeline.forecast import gone_after_s, known_gone_after_s, may_be_gone
from server.timeline.outlook import LinkOutlook, variance_at
from server.timeline.plan import Plan
from server.timeline.suppositions import SUPPOSED_SD, Supposed, suppositions

# The probabilities with which desks are shown when a reserve is gone, and that with which alarms ask.
GONE = (0.05, 0.50, 0.95)
KNOWN = 0.90
# The marks that everything asks for.
_ALWAYS_ASKED = ("head", "end", "tail_end")
Gone = dict[float, int | None]
# chosen: desks are told of the end of a reserve so many horizons ahead
HORIZONS = 3.0


class Prospect:
    """The view ahead from the latest event that moved the estimate; instants are microseconds after `motors_at`.

    Station and link arguments are indices in film order. An estimate that moves on needs a new prospect.
    """

    def __init__(self, plan: Plan, estimate: Estimate) -> None:
        self._plan = plan
        self._estimate = estimate
        self.outlook, self._ahead = estimate.ahead()
        self._arrivals: dict[str, list[int | None]] = {}
        self._gone: dict[float, list[Gone]] = {}
        self._supposed: dict[int, Supposed] | None = None
        self._reserves_s = np.asarray([link.reserve_s for link in plan.links], dtype=np.float64)
        self._standing = [k for k, rate in enumerate(self.outlook.rate) if rate <= 0.0]
        self._rate = np.where(self._ahead.rate > 0.0, self._ahead.rate, 1.0) if self._standing else self._ahead.rate

    def eta_us(self, station: int, x_s: float) -> tuple[int, float] | None:
        """Return when the film `x_s` is (or was) at a gate, and its standard deviation in seconds.

        None while the motor stands: nothing is on its way.
        """
        outlook, at_us = self.outlook, self.arrival_us(station, x_s)
        if at_us is None:
            return None
        variance = variance_at(outlook.pass_var(station, x_s), (at_us - outlook.at_us) / US_PER_S)
        return at_us, math.sqrt(variance) / outlook.rate[station]

    def arrival_us(self, station: int, x_s: float) -> int | None:
        """Return when the film `x_s` is (or was) at a gate; None while the motor stands."""
        rate = self.outlook.rate[station]
        return self.outlook.at_us + round(self.left_s(station, x_s) / rate * US_PER_S) if rate > 0.0 else None

    def arrivals_us(self, mark: str) -> list[int | None]:
        """Return the same of a mark for every gate."""
        if mark not in self._arrivals:
            marks = [mark] if self._arrivals else [*dict.fromkeys((*_ALWAYS_ASKED, mark))]
            x_s = np.asarray([self._plan.mark(one).x_s for one in marks])
            self._arrivals |= zip(marks, self._passes_us(x_s[:, None]), strict=True)
        return self._arrivals[mark]

    def passes_us(self, x_s: Sequence[float]) -> list[int | None]:
        """Return when at each gate the film of its own `x_s` is there (or was); None while its motor stands."""
        return self._passes_us(np.asarray(x_s)[None, :])[0]

    def _passes_us(self, x_s: Array) -> list[list[int | None]]:
        """The same of rows of film: (rows, stations), or (rows, 1) where it is alike for all."""
        outlook = self.outlook
        if outlook.splices:
            back_s = np.asarray([[outlook.further_back_s(x) for x in row] for row in x_s.tolist()])
        else:
            back_s = np.where(x_s >= outlook.film_end_s, outlook.tail_s, 0.0)
        left_s = x_s + back_s + self._ahead.gate_s - self._ahead.fed_s
        after_us = np.rint(left_s / self._rate * US_PER_S).astype(np.int64)
        rows: list[list[int | None]] = (outlook.at_us + after_us).tolist()
        for k in self._standing:
            for row in rows:
                row[k] = None
        return rows

    def left_s(self, station: int, x_s: float) -> float:
        """Return how much film has yet to go by before `x_s` is at a gate; negative once it has passed."""
        outlook = self.outlook
        return x_s + outlook.further_back_s(x_s) + outlook.gate_s[station] - outlook.fed_s[station]

    def gone_us(self, span_s: float) -> list[Gone]:
        """Return, for each link, when its reserve is gone with each probability of `GONE`.

        None where that is not within the forecast horizon of some instant in the `span_s` seconds after the latest
        event that moved the estimate.
        """
        within_s = self._within_s(span_s)
        if within_s not in self._gone:
            found = gone_after_s(self._ahead.links, self._reserves_s, GONE, within_s)
            self._gone[within_s] = [_gone_by(self.outlook.at_us, after_s) for after_s in found]
        return self._gone[within_s]

    def may_be_gone(self, span_s: float) -> NDArray[np.bool_]:
        """Return of each link whether its reserve may be gone within the horizon of some instant of that span."""
        within_s = self._plan.timing.forecast_horizon_s + max(span_s, 0.0)
        return may_be_gone(self._ahead.links, self._reserves_s, KNOWN, within_s)

    def is_used(self, share: float, span_s: float) -> NDArray[np.bool_]:
        """Return of each link whether that share of its reserve is used now or at the end of that span."""
        slack, drift, _ = self._ahead.links
        return np.asarray(np.maximum(np.abs(slack), np.abs(slack + drift * span_s)) >= share * self._reserves_s)

    @property
    def may_suppose(self) -> bool:
        """Whether of any motor enough may be supposed to tell somebody."""
        return self._estimate.most_spoken_sd() >= SUPPOSED_SD

    @property
    def supposed(self) -> dict[int, Supposed]:
        """By link, what is not believed yet but should be looked into."""
        if self._supposed is None:
            self._supposed = suppositions(self._plan, self._estimate, self._ahead.links)
        return self._supposed

    def known_gone_us(self, link: LinkOutlook, span_s: float) -> int | None:
        """Return when the reserve of one link is gone with the probability that alarms ask for, likewise.

        `link` is what is known or supposed of it.
        """
        within_s = self._within_s(span_s)
        after_s = known_gone_after_s(link, float(self._reserves_s[link.link]), KNOWN, within_s)
        return None if after_s is None else self.outlook.at_us + round(after_s * US_PER_S)

    def _within_s(self, span_s: float) -> float:
        """In whole horizons, so that the same few grids and answers serve again and again."""
        horizon_s = max(self._plan.timing.forecast_horizon_s, 1.0)
        return horizon_s * (HORIZONS + max(span_s, 0.0) // horizon_s)


def _gone_by(at_us: int, after_s: list[float | None]) -> Gone:
    return {p: None if s is None else at_us + round(s * US_PER_S) for p, s in zip(GONE, after_s, strict=True)}
