"""A change of a motor that was believed, and what has been learned of it since.

A jump `j` of a count and a change `e` of a rate went into the state together. Each is Gaussian with the state:
`theta = (j, e)` has a mean, a covariance `C` and a covariance `W` with the state. What is seen later tells them apart,
by the same update as the state's own:

    between events      W <- F W                      F is the estimate's own prediction
    at an observation   h = H W
                        theta <- theta + h' nu / S    nu is the innovation, S its variance
                        C <- C - h' h / S
                        W <- W - P H' h / S
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Believed(NamedTuple):
    """The change believed last: `subject` is a station, or the number of stations for all motors together;
    `number` counts the changes that were believed.

    `theta` is the jump in seconds of film and the change of rate as a share of nominal, (2,); `cov` their covariance,
    (2, 2); `cross` their covariance with the state, (size, 2). Nothing of it is changed in place.
    """

    subject: int
    number: int
    theta: Array
    cov: Array
    cross: Array

    def predicted(self, moved_s: Array, own: slice, common: int) -> "Believed":
        """Move on: each count by `moved_s` times its rate, own and common."""
        cross = self.cross.copy()
        cross[: len(moved_s)] += moved_s[:, None] * (cross[own] + cross[common])
        return self._replace(cross=cross)

    def learned(self, row: Array, gain: Array, innovation: float, variance: float) -> "Believed":
        """Take an observation that the estimate took; `gain` is its covariance with the state, before division."""
        shown = row @ self.cross
        theta = self.theta + shown * (innovation / variance)
        cov = self.cov - np.outer(shown, shown) / variance
        return self._replace(theta=theta, cov=cov, cross=self.cross - np.outer(gain, shown) / variance)

    def forgetting(self, unknown: int) -> "Believed":
        """What was known of one unknown of the state is forgotten."""
        cross = self.cross.copy()
        cross[unknown] = 0.0
        return self._replace(cross=cross)

    def jump_s(self) -> tuple[float, float]:
        """Return by how much the count jumped, in seconds of film, and its standard deviation."""
        return float(self.theta[0]), math.sqrt(max(float(self.cov[0, 0]), 0.0))

    def rate(self) -> tuple[float, float]:
        """Return by how much the rate changed, as a share of nominal, and its standard deviation."""
        return float(self.theta[1]), math.sqrt(max(float(self.cov[1, 1]), 0.0))
