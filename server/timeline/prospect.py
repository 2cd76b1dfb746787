"""What is to come by one estimate: when marks pass, when reserves are gone, and what else may be supposed.

Each answer is worked out once, when it is first asked for.
"""

import math

import numpy as np

from server.timeline.estimate import US_PER_S, Estimate
from server.timeline.forecast import gone_after_s
from server.timeline.outlook import Outlook, variance_at
from server.timeline.plan import Plan
from server.timeline.suppositions import Supposed, suppositions

# The probabilities with which desks are shown, and alarms ask, when a reserve is gone.
GONE = (0.05, 0.50, 0.90, 0.95)
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
        self.outlook: Outlook = estimate.outlook()
        self._arrivals: dict[str, list[int | None]] = {}
        self._gone: dict[float, list[Gone]] = {}
        self._supposed: dict[int, Supposed] | None = None
        self._reserves_s = np.asarray([link.reserve_s for link in plan.links], dtype=np.float64)

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
            x_s = self._plan.mark(mark).x_s
            self._arrivals[mark] = [self.arrival_us(k, x_s) for k in range(len(self._plan.stations))]
        return self._arrivals[mark]

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
            found = gone_after_s(self.outlook, self._reserves_s, GONE, within_s)
            self._gone[within_s] = [_gone_by(self.outlook.at_us, after_s) for after_s in found]
        return self._gone[within_s]

    @property
    def supposed(self) -> dict[int, Supposed]:
        """By link, what is not believed yet but should be looked into."""
        if self._supposed is None:
            self._supposed = suppositions(self._plan, self._estimate, self.outlook)
        return self._supposed

    def supposed_gone_us(self, link: int, span_s: float) -> Gone:
        """Return the same as `gone_us` for a link of which something is supposed, by that."""
        _, slack, drift, slack_var = self.supposed[link].link
        one = self.outlook._replace(slack=[slack], drift=[drift], slack_var=[slack_var])
        (after_s,) = gone_after_s(one, self._reserves_s[link : link + 1], GONE, self._within_s(span_s))
        return _gone_by(self.outlook.at_us, after_s)

    def _within_s(self, span_s: float) -> float:
        """In whole horizons, so that the same few grids and answers serve again and again."""
        horizon_s = max(self._plan.timing.forecast_horizon_s, 1.0)
        return horizon_s * (HORIZONS + max(span_s, 0.0) // horizon_s)


def _gone_by(at_us: int, after_s: list[float | None]) -> Gone:
    return {p: None if s is None else at_us + round(s * US_PER_S) for p, s in zip(GONE, after_s, strict=True)}
