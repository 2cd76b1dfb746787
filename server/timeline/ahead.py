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
    gate_s[1:] += mean[layout.paths].cumsum()
    with_rates = _with_rates(state)
    coefficients = _coefficients(state, with_rates)
    variance: list[tuple[float, float, float, float]] = list(zip(*coefficients.tolist(), strict=True))
    links = Slacks(mean[: n - 1] - mean[1:n], rate[:-1] - rate[1:], coefficients[:, n:].T)
    moments = Moments(links, mean[:n].copy(), gate_s, rate)
    outlook = Outlook(
        at_us=at_us,
        fed_s=moments.fed_s.tolist(),
        rate=rate.tolist(),
        gate_s=gate_s.tolist(),
        eta_var=variance[:n],
        film_end_s=layout.film_end_s,
        tail_s=float(mean[tail]),
        tail_var=_of_end(_with_gates(layout, cov[:, tail]), with_rates[:, tail], float(cov[tail, tail])),
        splices=_splices(state, spliced, places_s),
        slack=links.slack.tolist(),
        drift=links.drift.tolist(),
        slack_var=variance[n:],
    )
    return outlook, moments


def _coefficients(state: State, with_rates: Array) -> Array:
    """The coefficients of 1, d, d^2 and d^3 in the variance of a value `d` seconds on: (4, gates and then links).

    A gate's value is `c_k - sum(p_j, j < k)`, a link's `c_i - c_(i+1)`.
    """
    layout, _, cov, running = state
    n, before = layout.n, layout.before
    counts, of_rates = cov[:n, :n], with_rates[:, :n]
    rates = running * (with_rates[:, layout.own] + with_rates[:, layout.common, None])
    found = np.empty((4, 2 * n - 1))
    both = cov[layout.paths, layout.paths].cumsum(axis=0).cumsum(axis=1).diagonal()
    own = counts.diagonal()
    found[0, :n] = own - 2.0 * (cov[:n, layout.paths] * before).sum(axis=1)
    found[0, 1:n] += both
    found[0, n:] = own[:-1] + own[1:] - 2.0 * counts.diagonal(1)
    slopes = of_rates.diagonal()
    found[1, :n] = slopes - (with_rates[:, layout.paths] * before).sum(axis=1)
    found[1, n:] = slopes[:-1] + slopes[1:] - of_rates.diagonal(1) - of_rates.diagonal(-1)
    found[1] *= 2.0
    found[2, :n] = own = rates.diagonal()
    found[2, n:] = own[:-1] + own[1:] - 2.0 * rates.diagonal(1)
    found[3, :n] = walk = running * (layout.walk_var_per_s / 3.0)
    found[3, n:] = walk[:-1] + walk[1:]
    return found


def _with_gates(layout: Layout, with_state: Array) -> Array:
    """The covariance with `c_k - sum(p_j, j < k)` at each gate of what has that covariance with the state."""
    gates = with_state[: layout.n].copy()
    gates[1:] -= with_state[layout.paths].cumsum()
    return gates


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
        end = _of_end(_with_gates(layout, both), rates, own_var)
        found.append(Splice(from_s, by_s, end, with_tail, own_var))
    return found
