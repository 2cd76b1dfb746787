"""Whether two observations of a station that did not fit tell the same story."""

import math
from typing import NamedTuple

from server.timeline.estimate import MISFIT_SD, US_PER_S

# chosen: opened a little wider than what was seen, so that the observations decide and not the guess
_WIDER = 2.0
# chosen: twice the slip of a loaded induction motor; a motor further off than this is not what went by
_MOST_RATE = 0.1
# chosen: how closely two marks must follow one another to show that a motor runs that is believed to stand
_SAME_SPEED = 0.02


class Stranger(NamedTuple):
    """An observation that did not fit: when, who saw what, and its own error.

    `ahead_s` is by how much the station's count would have to be ahead of (+) or behind (-) its estimate. `x_s` is
    the film that a pass saw, None where the link that feeds the station was read to hold `slack_s`.
    """

    at_us: int
    source: str
    x_s: float | None
    slack_s: float
    ahead_s: float
    error_s: float


class Explanation(NamedTuple):
    """What would have to be true: about how large a jump of the count, and how large a change of the rate."""

    count_sigma_s: float
    rate_sigma: float


def explanation(first: Stranger, second: Stranger, fitted_us: int, rate_var: float) -> Explanation | None:
    """Return the one jump, or else the one change of rate since `fitted_us`, that explains both; None if neither does.

    A jump leaves both equally far ahead; a rate that changed by `e` at `tau` leaves each `e (t - tau)` ahead. Both are
    held to their errors and, for the jump, to what the rate's own variance `rate_var` may have added in between.
    The same source telling of the same mark twice is no second opinion.
    """
    if first.x_s is not None and (first.source, first.x_s) == (second.source, second.x_s):
        return None
    apart_s = (second.at_us - first.at_us) / US_PER_S
    errors_s = math.hypot(first.error_s, second.error_s)
    growth_s = second.ahead_s - first.ahead_s
    if abs(growth_s) <= MISFIT_SD * math.hypot(errors_s, apart_s * rate_var**0.5):
        return Explanation(_WIDER * max(abs(first.ahead_s), abs(second.ahead_s)), 0.0)
    if apart_s <= 0.0:
        return None
    rate = growth_s / apart_s
    if abs(rate) > _MOST_RATE:
        return None
    since_fit_s = (first.at_us - fitted_us) / US_PER_S
    began_s = first.ahead_s / rate
    allowance_s = MISFIT_SD * errors_s / abs(rate)
    if -allowance_s <= began_s <= since_fit_s + allowance_s:
        return Explanation(_WIDER * abs(second.ahead_s), _WIDER * abs(rate))
    return None


def shows_running(first: Stranger, second: Stranger) -> bool:
    """Whether two passes, at a station whose motor is believed to stand, are of film that runs at about its speed."""
    if first.x_s is None or second.x_s is None:
        return False
    film_s, apart_s = second.x_s - first.x_s, (second.at_us - first.at_us) / US_PER_S
    errors_s = MISFIT_SD * math.hypot(first.error_s, second.error_s)
    return film_s > 0.0 and abs(apart_s - film_s) <= errors_s + _SAME_SPEED * film_s
