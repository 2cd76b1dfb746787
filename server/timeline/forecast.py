"""When a link's reserve is gone, with what probability."""

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from server.timeline.outlook import LinkOutlook, Slacks, variance_at

Array = NDArray[np.float64]

# Each round narrows the answer 16 times: four of them, to better than a hundred-thousandth of itself.
_FINE: Array = np.linspace(0.0, 1.0, 17)
_ROUNDS = 4
_LEAST_VAR = 1e-18
_NEAR_S = 1e-6


def normal_tail(z: Array) -> Array:
    """Return the probability that a standard normal exceeds each `z`.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 26.2.17 (from memory; error under 7.5e-8).
    """
    size = np.abs(z)
    t = 1.0 / (1.0 + 0.2316419 * size)
    series = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail = np.exp(-0.5 * size * size) / np.sqrt(2.0 * np.pi) * series
    upper: Array = np.where(z >= 0.0, tail, 1.0 - tail)
    return upper


@lru_cache(maxsize=16)
def _coarse_s(longest_s: float) -> Array:
    return np.concatenate([[0.0], np.geomspace(0.5, longest_s, 25)])


def gone_after_s(
    links: Slacks, reserve_s: Array, probabilities: tuple[float, ...], longest_s: float
) -> list[list[float | None]]:
    """Return, for each link and probability, the seconds from now until slack is past the reserve.

    `reserve_s` has one entry a link. The slack at an instant is Gaussian with the moments of the outlook, and is past
    the reserve on either side; the first instant at which that is as probable as asked is found on a grid and refined.
    None where it is not within `longest_s`.
    """
    answer: list[list[float | None]] = [[None] * len(probabilities) for _ in reserve_s]
    near = np.flatnonzero(may_be_gone(links, reserve_s, min(probabilities), longest_s))
    if len(near):
        slack, drift, var = links
        found = _first_after_s(slack[near], drift[near], var[near], reserve_s[near], probabilities, longest_s)
        for i, after_s in zip(near.tolist(), found, strict=True):
            answer[i] = after_s
    return answer


def known_gone_after_s(link: LinkOutlook, reserve_s: float, probability: float, longest_s: float) -> float | None:
    """Return the same as `gone_after_s` for one link and probability, to a microsecond."""
    _, slack, drift, var = link

    def is_gone(after_s: float) -> bool:
        sd = math.sqrt(2.0 * max(variance_at(var, after_s), _LEAST_VAR))
        mean = slack + drift * after_s
        return 0.5 * (math.erfc((reserve_s - mean) / sd) + math.erfc((reserve_s + mean) / sd)) >= probability

    grid_s: list[float] = _coarse_s(longest_s).tolist()
    first = next((i for i, after_s in enumerate(grid_s) if is_gone(after_s)), None)
    if first is None:
        return None
    low_s, high_s = grid_s[max(first - 1, 0)], grid_s[first]
    while high_s - low_s > _NEAR_S:
        middle_s = 0.5 * (low_s + high_s)
        low_s, high_s = (low_s, middle_s) if is_gone(middle_s) else (middle_s, high_s)
    return high_s


def may_be_gone(links: Slacks, reserve_s: Array, probability: float, longest_s: float) -> NDArray[np.bool_]:
    """Return whether a link's reserve can be gone with that probability within `longest_s`; as a rule it cannot.

    The mean is a line and the variance is convex, so each is at its largest at one of the ends; where even both at
    once leave the reserve with more than that probability, both ways counted, no instant between does otherwise.
    """
    slack, drift, var = links
    a, b, c, w = var.T
    late = a + longest_s * (b + longest_s * (c + longest_s * w))
    sd = np.sqrt(np.maximum(np.maximum(a, late), _LEAST_VAR))
    most = np.maximum(np.abs(slack), np.abs(slack + drift * longest_s))
    return np.asarray(reserve_s - most <= _sure_sd(0.5 * probability) * sd)


@lru_cache(maxsize=16)
def _sure_sd(probability: float) -> float:
    """How many standard deviations are exceeded with that probability."""
    return NormalDist().inv_cdf(1.0 - probability)


def _first_after_s(
    slack: Array, drift: Array, var: Array, reserve_s: Array, probabilities: tuple[float, ...], longest_s: float
) -> list[list[float | None]]:
    coarse_s = _coarse_s(longest_s)
    past = _past(coarse_s[None, :], slack, drift, var, reserve_s)
    over = past[:, None, :] >= np.asarray(probabilities)[:, None]
    first = over.argmax(axis=2)
    answer: list[list[float | None]] = [[None] * len(probabilities) for _ in slack]
    for i, j in np.argwhere(over[:, :, 0]):
        answer[i][j] = 0.0
    links, which = np.nonzero(over.any(axis=2) & (first > 0))
    low, high = coarse_s[first[links, which] - 1], coarse_s[first[links, which]]
    asked = np.asarray(probabilities)[which, None]
    for _ in range(_ROUNDS if len(links) else 0):
        grid = low[:, None] + (high - low)[:, None] * _FINE
        fine = _past(grid, slack[links], drift[links], var[links], reserve_s[links])
        at = np.maximum((fine >= asked).argmax(axis=1), 1)
        row = np.arange(len(at))
        low, high = grid[row, at - 1], grid[row, at]
    for i, j, after_s in zip(links.tolist(), which.tolist(), high.tolist(), strict=True):
        answer[i][j] = after_s
    return answer


def _past(after_s: Array, slack: Array, drift: Array, var: Array, reserve_s: Array) -> Array:
    mean = slack[:, None] + drift[:, None] * after_s
    a, b, c, w = (var[:, i, None] for i in range(4))
    sd = np.sqrt(np.maximum(a + after_s * (b + after_s * (c + after_s * w)), 1e-18))
    reserve = reserve_s[:, None]
    return normal_tail((reserve - mean) / sd) + normal_tail((reserve + mean) / sd)
