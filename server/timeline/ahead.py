"""The estimate put into the shape in which everything else asks for it: what is known now, and how it will grow."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.timeline.layout import Layout
from server.timeline.outlook import Outlook, Splice

Array = NDArray[np.float64]


class State(NamedTuple):
    """The Gaussian of an estimate at one instant, and which motors run."""

    layout: Layout
    mean: Array
    cov: Array
    running: Array


def outlook_of(state: State, at_us: int, spliced: Sequence[tuple[float, float]], places_s: Sequence[float]) -> Outlook:
    """Return the state in the shape that phases, alarms and desks ask for.

    `spliced` are splices that are known for certain, as (from where on, by how much); `places_s` where those are that
    are unknowns of the state.
    """
    layout, mean, cov, running = state
    n, own, common = layout.n, layout.own, layout.common
    rate = running * (1.0 + mean[common] + mean[own])
    gate_s = layout.ahead_s.copy()
    gate_s[1:] += np.cumsum(mean[layout.paths])
    # Of each count with each rate, and of each rate with each rate.
    count_rate = running * (cov[:n, own] + cov[:n, common, None])
    rates = running[:, None] * (cov[own] + cov[common])
    rate_rate = running * (rates[:, own] + rates[:, common, None])
    walk = running * layout.walk_var_per_s / 3.0
    eta_var = _polynomials(*_of_gates(state), np.diagonal(rate_rate), walk)
    return Outlook(
        at_us=at_us,
        fed_s=mean[:n].tolist(),
        rate=rate.tolist(),
        gate_s=gate_s.tolist(),
        eta_var=eta_var,
        film_end_s=layout.film_end_s,
        tail_s=float(mean[layout.tail]),
        tail_var=_of_end(state, cov[:, layout.tail], float(cov[layout.tail, layout.tail])),
        splices=_splices(state, spliced, places_s),
        slack=(mean[: n - 1] - mean[1:n]).tolist(),
        drift=(rate[:-1] - rate[1:]).tolist(),
        slack_var=_polynomials(
            _of_differences(cov[:n, :n]),
            _of_differences(count_rate),
            _of_differences(rate_rate),
            walk[:-1] + walk[1:],
        ),
    )


def _of_end(state: State, both: Array, own_var: float) -> list[tuple[float, float]]:
    """What the error of the print's length, up to its end or a splice, adds to a pass at each gate.

    That is to its variance, and to the slope of that. `both` is its covariance with the state.
    """
    layout = state.layout
    more = own_var - 2.0 * (layout.gates @ both)
    slope = -2.0 * state.running * (both[layout.own] + both[layout.common])
    return list(zip(more.tolist(), slope.tolist(), strict=True))


def _splices(state: State, spliced: Sequence[tuple[float, float]], places_s: Sequence[float]) -> list[Splice]:
    """What is known of splices that the plan does not have, in film order, each with all before it."""
    found, by_s = [], 0.0
    for from_s, more_s in spliced:
        by_s += more_s
        found.append(Splice(from_s, by_s, [], 0.0))
    first = state.layout.splices.start
    unknowns = [(from_s, first + i) for i, from_s in enumerate(places_s)]
    both = np.zeros(state.layout.size)
    for from_s, unknown in sorted(unknowns):
        if state.cov[unknown, unknown] <= 0.0:
            continue
        # With all before it: their variance, each other's covariance with it, and its own.
        own_var = (found[-1].own_var if found else 0.0) + float(2.0 * both[unknown] + state.cov[unknown, unknown])
        both = both + state.cov[:, unknown]
        by_s += float(state.mean[unknown])
        with_tail = 2.0 * float(both[state.layout.tail])
        found.append(Splice(from_s, by_s, _of_end(state, both, own_var), with_tail, own_var))
    return found


def _of_gates(state: State) -> tuple[Array, Array]:
    """The variance of `c_k - sum(p_j, j < k)` at each gate, and its covariance with the rate there."""
    layout, cov, n = state.layout, state.cov, state.layout.n
    rows = cov[:n].copy()
    rows[1:] -= np.cumsum(cov[layout.paths], axis=0)
    variance = np.diagonal(rows) + np.einsum("ij,ij->i", rows[:, layout.paths], layout.gates[:, layout.paths])
    with_rate = state.running * (np.diagonal(rows[:, layout.own]) + rows[:, layout.common])
    return variance, with_rate


def _of_differences(cov: Array) -> Array:
    """The variance of the difference of neighbours, given the covariance of two like quantities of all stations."""
    each = np.diagonal(cov)
    return each[:-1] + each[1:] - np.diagonal(cov, 1) - np.diagonal(cov, -1)


def _polynomials(value: Array, both: Array, rate: Array, walk: Array) -> list[tuple[float, float, float, float]]:
    """Variance of `value + d rate`, which have `both` as their covariance, as the coefficients of 1, d, d^2 and d^3."""
    return list(zip(value.tolist(), (2.0 * both).tolist(), rate.tolist(), walk.tolist(), strict=True))
