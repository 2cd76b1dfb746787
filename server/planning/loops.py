"""The loop that holds a link's reserve: how far it hangs for the film in it, and the film for how far it hangs.

Film hangs as a catenary. Of a level span S, `L = 2a sinh(S / 2a)` is its length and `d = a (cosh(S / 2a) - 1)` its sag
(handbook formulas). Lengths are metres.
"""

import math
from collections.abc import Callable
from typing import Final, NamedTuple

_STEPS: Final = 80  # of halving: to the last digit of a float
_DEEPEST: Final = 500.0  # of S / 2a: no loop is that deep, and sinh still fits a float


class Loop(NamedTuple):
    """What a loop holds: seconds of film either way, and how far it hangs at rest and at its fullest for a reserve."""

    holds_s: float
    rest_sag_m: float
    full_sag_m: float


def length_from_sag(span_m: float, sag_m: float) -> float:
    """Return the film in a loop that hangs so far; the span itself where it is taut."""
    if sag_m <= 0.0:
        return span_m
    # The sag is (S / 2x)(cosh x - 1) with x = S / 2a, and grows with x.
    x = _root(lambda x: _sag(span_m, x) - sag_m)
    return span_m * math.sinh(x) / x


def sag_from_length(span_m: float, length_m: float) -> float:
    """Return how far a loop hangs that holds so much film; 0 where it is taut, or shorter than its span."""
    if length_m <= span_m:
        return 0.0
    x = _root(lambda x: span_m * math.sinh(x) / x - length_m)
    return _sag(span_m, x)


def loop_for(span_m: float, drop_m: float, reserve_s: float, speed_m_per_s: float) -> Loop:
    """Work out a loop over a span with so much room below, which is to hold a reserve either way.

    It has the reserve twice: at rest one, to give out until it is taut, and room for another until it is on the floor.
    """
    reserve_m = reserve_s * speed_m_per_s
    return Loop(
        holds_s=(length_from_sag(span_m, drop_m) - span_m) / 2.0 / speed_m_per_s,
        rest_sag_m=sag_from_length(span_m, span_m + reserve_m),
        full_sag_m=sag_from_length(span_m, span_m + 2.0 * reserve_m),
    )


def _sag(span_m: float, x: float) -> float:
    # cosh x - 1 as 2 sinh^2(x / 2): no digits are lost where the loop is shallow.
    return span_m / x * math.sinh(x / 2.0) ** 2


def _root(over: Callable[[float], float]) -> float:
    """Return where a rising function of S / 2a is zero, by halving."""
    low, high = 1e-9, _DEEPEST
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if over(middle) > 0.0 else (middle, high)
    return high
