"""The estimate put into the shape in which everything else asks for it: what is known now, and how it will grow."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.timeline.layout import Layout
from server.timeline.outlook import Outlook, Slacks, Splice

Array = NDArray[np.float64]


class State(NamedTuple):
    """The Gaussian of an estimate at one instant, and which motors run."""

    layout: Layout
    mean: Array
    cov: Array
    running: Array


class Moments(NamedTuple):
    """What an `Outlook` says of links, and of gates, (stations,), as arrays."""

    links: Slacks
    fed_s: Array
    gate_s: Array
    rate: Array


def outlook_of(
    state: State, at_us: int, spliced: Sequence[tuple[float, float]], places_s: Sequence[float]
) -> tuple[Outlook, Moments]:
    """Return the state in the shape that phases, alarms and desks ask for, and some of it as arrays.

    `spliced` are splices that are known for certain, as (from where on, by how much); `places_s` where those are that
    are unknowns of the state.
    """
    layout, mean, cov, running = state
    n, tail = layout.n, layout.tail
    rate = running * (1.0 + mean[layout.common] + mean[layout.own])
    gate_s = layout.ahead_s.copy()
    gate_s[1:] += np.cumsum(mean[layout.paths])
    with_gates, with_rates = _with_gates(layout, cov), _with_rates(state)
    # Of gates and then of links: the covariance of each, and of how fast it changes, with the state.
    with_values = np.concatenate((with_gates, cov[: n - 1] - cov[1:n]))
    with_rates = np.concatenate((with_rates, with_rates[:-1] - with_rates[1:]))
    own = running * (with_rates[:, layout.own] + with_rates[:, layout.common, None])
    each, upper = np.arange(n), np.arange(n - 1)
    rate_var = np.concatenate((own[each, each], own[n + upper, upper] - own[n + upper, upper + 1]))
    walk = running * (layout.walk_var_per_s / 3.0)
    # The coefficients of 1, d, d^2 and d^3 in the variance of a value `d` seconds on.
    coefficients = np.empty((2 * n - 1, 4))
    coefficients[:, 0] = np.einsum("ij,ij->i", with_values, layout.values)
    coefficients[:, 1] = 2.0 * np.einsum("ij,ij->i", with_rates, layout.values)
    coefficients[:, 2] = rate_var
    coefficients[:n, 3] = walk
    coefficients[n:, 3] = walk[:-1] + walk[1:]
    variance = [(a, b, c, w) for a, b, c, w in coefficients.tolist()]
    links = Slacks(mean[: n - 1] - mean[1:n], rate[:-1] - rate[1:], coefficients[n:])
    moments = Moments(links, mean[:n].copy(), gate_s, rate)
    outlook = Outlook(
        at_us=at_us,
        fed_s=moments.fed_s.tolist(),
        rate=rate.tolist(),
        gate_s=gate_s.tolist(),
        eta_var=variance[:n],
        film_end_s=layout.film_end_s,
        tail_s=float(mean[tail]),
        tail_var=_of_end(with_values[:n, tail], with_rates[:n, tail], float(cov[tail, tail])),
        splices=_splices(state, spliced, places_s),
        slack=links.slack.tolist(),
        drift=links.drift.tolist(),
        slack_var=variance[n:],
    )
    return outlook, moments


def _with_gates(layout: Layout, cov: Array) -> Array:
    """The covariance of `c_k - sum(p_j, j < k)` at each gate with the state: (stations, size)."""
    rows = cov[: layout.n].copy()
    rows[1:] -= np.cumsum(cov[layout.paths], axis=0)
    return rows


def _with_rates(state: State) -> Array:
    """The covariance of each count's rate, which is none while its motor stands, with the state: (stations, size)."""
    layout, cov = state.layout, state.cov
    return np.asarray(state.running[:, None] * (cov[layout.own] + cov[layout.common]))


def _of_end(gates: Array, rates: Array, own_var: float) -> list[tuple[float, float]]:
    """What the error of the print's length, up to its end or a splice, adds to a pass at each gate.

    That is to its variance, and to the slope of that. `gates` and `rates` are the covariances of that error with what
    the gates have fed, less their paths, and with how fast; `own_var` is its variance.
    """
    return list(zip((own_var - 2.0 * gates).tolist(), (-2.0 * rates).tolist(), strict=True))


def _splices(state: State, spliced: Sequence[tuple[float, float]], places_s: Sequence[float]) -> list[Splice]:
    """What is known of splices that the plan does not have, in film order, each with all before it."""
    found, by_s = [], 0.0
    for from_s, more_s in spliced:
        by_s += more_s
        found.append(Splice(from_s, by_s, [], 0.0))
    layout, first = state.layout, state.layout.splices.start
    unknowns = [(from_s, first + i) for i, from_s in enumerate(places_s) if state.cov[first + i, first + i] > 0.0]
    both = np.zeros(layout.size)
    for from_s, unknown in sorted(unknowns):
        # With all before it: their variance, each other's covariance with it, and its own.
        own_var = (found[-1].own_var if found else 0.0) + float(2.0 * both[unknown] + state.cov[unknown, unknown])
        both = both + state.cov[:, unknown]
        by_s += float(state.mean[unknown])
        with_tail = 2.0 * float(both[layout.tail])
        rates = state.running * (both[layout.own] + both[layout.common])
        end = _of_end(np.einsum("ij,j->i", layout.gates, both), rates, own_var)
        found.append(Splice(from_s, by_s, end, with_tail, own_var))
    return found
