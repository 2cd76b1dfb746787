"""Where each unknown lies in the state of the estimate, and the constant rows of its equations."""

import numpy as np
from numpy.typing import NDArray

from server.timeline.changes import ONSETS
from server.timeline.plan import Plan

Array = NDArray[np.float64]


class Layout:
    """Where each unknown lies in the state, and the constant rows of the equations, for a chain of `n` stations."""

    def __init__(self, plan: Plan) -> None:
        n = len(plan.stations)
        self.n = n
        self.size = 3 * n + 1 + 2 * ONSETS
        self.own = slice(n, 2 * n)
        self.common = 2 * n
        self.paths = slice(2 * n + 1, 3 * n)
        self.tail = 3 * n
        self.splices = slice(3 * n + 1, 3 * n + 1 + ONSETS)
        self.clocks = slice(self.splices.stop, self.splices.stop + ONSETS)
        self.film_end_s = plan.print_s
        self.ahead_s: Array = np.asarray(plan.ahead_s, dtype=np.float64)
        self.gates = self._gate_rows()
        self.ends = self.gates.copy()
        self.ends[:, self.tail] = -1.0
        self.slacks = self._slack_rows()
        # Which paths lie before each gate.
        self.before: Array = np.tri(n, n - 1, -1)
        timing = plan.timing
        # Where a wandering rate grows the covariance, by station: of counts, of counts and rates both ways, of rates.
        each = np.arange(n)
        self.walks = np.array([row * self.size + column for row in (each, n + each) for column in (each, n + each)])
        self.walk_var_per_s = (timing.rate_walk_ppm_per_sqrt_hour * 1e-6) ** 2 / 3600.0
        self.prior = self._prior(plan)

    def _gate_rows(self) -> Array:
        rows = np.zeros((self.n, self.size))
        rows[:, : self.n] = np.eye(self.n)
        rows[:, self.paths] = -np.tri(self.n, self.n - 1, -1)
        return rows

    def _slack_rows(self) -> Array:
        rows = np.zeros((self.n - 1, self.size))
        links = np.arange(self.n - 1)
        rows[links, links] = 1.0
        rows[links, links + 1] = -1.0
        return rows

    def _prior(self, plan: Plan) -> Array:
        timing = plan.timing
        variances = np.zeros(self.size)
        variances[self.own] = (timing.rate_tolerance_ppm * 1e-6) ** 2
        variances[self.common] = (timing.line_tolerance_ppm * 1e-6) ** 2
        transits = np.asarray([link.transit_s for link in plan.links])
        variances[self.paths] = (transits * timing.path_tolerance_percent / 100.0) ** 2
        # Where the print ends with its last picture there is no tail to be longer than planned.
        variances[self.tail] = timing.tail_sigma_s**2 if plan.tail_s > 0.0 else 0.0
        return np.diag(variances)

    def row(self, station: int, x_s: float) -> Array:
        """Return the equation of a pass: that of the film's end for what lies that far behind the first gate."""
        return np.asarray((self.ends if x_s >= self.film_end_s else self.gates)[station])
