"""Whether two passes that did not fit tell the same story."""

import math
from typing import NamedTuple

from server.timeline.estimate import MISFIT_SD, US_PER_S

# chosen: opened a little wider than what was seen, so that the observations decide and not the guess
_WIDER = 2.0


class Stranger(NamedTuple):
    """A pass that did not fit: when, who told of what film, how early (+) or late (-) it was, and its own error."""

    at_us: int
    source: str
    x_s: float
    early_s: float
    error_s: float


class Explanation(NamedTuple):
    """What would have to be true: about how large a jump of the count, and how large a change of the rate."""

    count_sigma_s: float
    rate_sigma: float


def explanation(first: Stranger, second: Stranger, fitted_us: int, rate_var: float) -> Explanation | None:
    """Return the one jump, or else the one change of rate since `fitted_us`, that explains both; None if neither does.

    A jump leaves both equally early; a rate that changed by `e` at `tau` leaves each early by `e (t - tau)`. Both are
    held to their errors and, for the jump, to what the rate's own variance `rate_var` may have added in between.
    The same source telling the same thing twice is no second opinion.
    """
    if (first.source, first.x_s) == (second.source, second.x_s):
        return None
    apart_s = (second.at_us - first.at_us) / US_PER_S
    errors_s = math.hypot(first.error_s, second.error_s)
    growth_s = second.early_s - first.early_s
    if abs(growth_s) <= MISFIT_SD * math.hypot(errors_s, apart_s * rate_var**0.5):
        return Explanation(_WIDER * max(abs(first.early_s), abs(second.early_s)), 0.0)
    if apart_s <= 0.0:
        return None
    rate = growth_s / apart_s
    since_fit_s = (first.at_us - fitted_us) / US_PER_S
    began_s = first.early_s / rate
    allowance_s = MISFIT_SD * errors_s / abs(rate)
    if -allowance_s <= began_s <= since_fit_s + allowance_s:
        return Explanation(_WIDER * abs(second.early_s), _WIDER * abs(rate))
    return None
