"""How long each reserve lasts, for these motors and this start: minutes, and with what probability.

Slack of a link, its two motors started together by plan, after `t` seconds is normal: the difference of the planned
offsets, a start that differs by sqrt(2) `start_spread_s` (and `runup_sigma_s`), rates that differ by sqrt(2)
`rate_tolerance_ppm`, and rates that wander, which is `server.timeline.estimate`'s model before any evidence. The
reserve is spent by `t` if it is at the start or at `t`: a drift that is steady is at its furthest at an end, and one
that wanders turns back too seldom to matter (held against simulated shows in the tests).
"""

import math
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from server.timeline.forecast import normal_tail
from server.timeline.plan import Plan

LONGEST_S: Final = 86_400.0  # chosen: a reserve that lasts a day is not told in minutes

_STEPS: Final = 27  # of halving a day, down to a millisecond
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_LEAST_SD_S: Final = 1e-9


class Life(NamedTuple):
    """The life of one link's reserve; `link` and `stations` are indices and ids in film order.

    `spent_p05_s` and `spent_p50_s` are the seconds after the start by which it is spent with 5 % and 50 % probability.
    They are None where that is over a day. `spent_before_out` is the probability that it is spent before the film's end
    has left the gate above, which is after `runs_s`.
    """

    link: int
    id: str
    reserve_s: float
    runs_s: float
    spent_p05_s: float | None
    spent_p50_s: float | None
    spent_before_out: float


class Drift(NamedTuple):
    """What makes a link's slack: a mean and standard deviations of start, rate and wander, in s, 1 and s^-1/2."""

    start_s: float
    start_sd_s: float
    rate_sd: float
    walk_sd: float


def drift_of(plan: Plan, link: int) -> Drift:
    """Return what the plan says may move the slack of a link, by its index."""
    timing = plan.timing
    upstream, downstream = plan.stations[link], plan.stations[link + 1]
    two = math.sqrt(2.0)
    return Drift(
        start_s=downstream.start_offset_s - upstream.start_offset_s,
        start_sd_s=two * math.hypot(timing.start_spread_s, timing.runup_sigma_s),
        rate_sd=two * timing.rate_tolerance_ppm * 1e-6,
        walk_sd=two * timing.rate_walk_ppm_per_sqrt_hour * 1e-6 / 60.0,
    )


def probability_spent(drift: Drift, reserve_s: float, after_s: float) -> float:
    """Return the probability that a reserve is spent within so many seconds of the start."""
    moved_sd = math.sqrt((drift.rate_sd * after_s) ** 2 + drift.walk_sd**2 * after_s**3 / 3.0)
    start_sd = max(drift.start_sd_s, _LEAST_SD_S)
    # Slack at the start within the reserve, and within twelve standard deviations: no more is worth a node.
    low = max(-reserve_s, drift.start_s - 12.0 * start_sd)
    high = min(reserve_s, drift.start_s + 12.0 * start_sd)
    if low >= high:
        return 1.0
    slack = (low + high) / 2.0 + (high - low) / 2.0 * _NODES
    density = np.exp(-0.5 * ((slack - drift.start_s) / start_sd) ** 2) / (start_sd * math.sqrt(2.0 * math.pi))
    sd = max(moved_sd, _LEAST_SD_S)
    kept = 1.0 - normal_tail((reserve_s - slack) / sd) - normal_tail((reserve_s + slack) / sd)
    inside = float((high - low) / 2.0 * np.sum(_WEIGHTS * density * kept))
    return min(max(1.0 - inside, 0.0), 1.0)


@lru_cache(maxsize=1024)
def spent_after_s(drift: Drift, reserve_s: float, probability: float) -> float | None:
    """Return the seconds after the start by which a reserve is spent with that probability; None if over a day."""
    if probability_spent(drift, reserve_s, LONGEST_S) < probability:
        return None
    low, high = 0.0, LONGEST_S
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if probability_spent(drift, reserve_s, middle) >= probability else (middle, high)
    return high


def lives_of(plan: Plan) -> tuple[Life, ...]:
    """Return the life of every link's reserve, in film order."""
    return tuple(_life(plan, i) for i in range(len(plan.links)))


def _life(plan: Plan, i: int) -> Life:
    link, drift = plan.links[i], drift_of(plan, i)
    runs_s = plan.print_s + plan.ahead_s[i]
    return Life(
        link=i,
        id=link.id,
        reserve_s=link.reserve_s,
        runs_s=runs_s,
        spent_p05_s=spent_after_s(drift, link.reserve_s, 0.05),
        spent_p50_s=spent_after_s(drift, link.reserve_s, 0.5),
        spent_before_out=probability_spent(drift, link.reserve_s, runs_s),
    )
