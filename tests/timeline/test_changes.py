"""A change that is kept in mind is known exactly as if it had been part of the state from the start."""

import math
from collections.abc import Collection

import numpy as np
import pytest
from scipy.linalg import lstsq
from scipy.stats import multivariate_normal, norm

from server.timeline import changes
from server.timeline.changes import _OWN_SIGMA, _SHARES, ONSETS, Array, Changes
from server.timeline.estimate import Estimate
from tests.adapters.shows import chain_plan
from tests.timeline.story import event, played, starts

PRIOR_RATE, SIGMA_S = 50e-6, 0.02
# Two counts, two rates, that of both, a path, and the splices; what is seen is the first count.
SPLICES = slice(6, 6 + ONSETS)
CLOCKS = slice(SPLICES.stop, SPLICES.stop + ONSETS)
SIZE = CLOCKS.stop
ROW = np.eye(SIZE)[0]


AT_S = np.array([600.0, 1200.0, 1800.0, 2400.0, 3000.0])
LATE_S = np.array([0.01, -0.02, 0.06, 0.13, 0.24])


def batch_of(number: int, share: float) -> tuple[Array, Array, float]:
    """One motor that changed after pass `number`, by least squares: count and rate now, how likely what was seen is."""
    after = np.maximum(AT_S - AT_S[number], 0.0)
    unknowns = np.column_stack([np.ones(5), AT_S, after > 0.0, after])
    priors = np.diag([1.0 / SIGMA_S, 1.0 / PRIOR_RATE, 1.0 / _OWN_SIGMA[0], 1.0 / (share * _OWN_SIGMA[1])])
    # The change of rate began in the middle of the ten minutes to the next pass.
    priors[2, 3] = 300.0 / _OWN_SIGMA[0]
    design = np.vstack([unknowns / SIGMA_S, priors])
    found = lstsq(design, np.concatenate([-LATE_S / SIGMA_S, np.zeros(4)]))[0]
    now = np.array([[1.0, AT_S[-1], 1.0, after[-1]], [0.0, 1.0, 0.0, 1.0]])
    seen_cov = unknowns @ np.linalg.inv(priors.T @ priors) @ unknowns.T + SIGMA_S**2 * np.eye(5)
    likely = float(multivariate_normal(cov=seen_cov).pdf(LATE_S))
    return now @ found, now @ np.linalg.inv(design.T @ design) @ now.T, likely


@pytest.mark.parametrize("onsets", [(1,), (0, 1, 2)])
def test_a_change_is_known_as_the_batch_solutions_know_it(
    onsets: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By SciPy: a least squares for each onset and each size of its rate, put together by how likely each is."""
    monkeypatch.setattr(changes, "_AS_LIKELY", -math.inf)
    plan = chain_plan(1, timing="rate_walk_ppm_per_sqrt_hour = 0.0\nline_tolerance_ppm = 0.0")
    estimate = Estimate(plan, 0)
    estimate.turn([0], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=SIGMA_S)
    for number, (t, late) in enumerate(zip(AT_S.tolist(), LATE_S.tolist(), strict=True)):
        estimate.advance(round(t * 1e6))
        assert estimate.see_pass(0, t - late, SIGMA_S)
        if number - 1 in onsets:
            estimate._changes.settle(0, 600.0)
        if number in onsets:
            estimate._changes.keep(0)
    change = estimate._changes.likeliest(1.0)
    assert change is not None
    means, covs, likely = zip(*(batch_of(number, share) for number in onsets for share in _SHARES), strict=True)
    weights = np.array(likely) / sum(likely)
    mean = weights @ np.array(means)
    second = [cov + np.outer(one, one) for cov, one in zip(covs, np.array(means), strict=True)]
    cov = np.tensordot(weights, second, axes=1) - np.outer(mean, mean)
    now = estimate._mean + change.mean
    assert [now[0] - AT_S[-1], now[1]] == pytest.approx(mean, rel=1e-6)
    assert (estimate._cov + change.cov)[:2, :2] == pytest.approx(cov, rel=1e-5)


def test_a_motor_that_runs_off_is_found_by_taps_that_fit_one_by_one() -> None:
    """1200 ppm are 0.72 s from mark to mark: no tap is five deviations off, four of them together are."""
    plan = chain_plan(2, inputs=("contact", "contact", "none", "tap"))
    off = [0.0, 0.0, 0.72, 1.44, 2.16, 2.88]
    passes = [
        event(
            plan,
            40.0 + plan.ahead_s[k] + 600.0 * n + (late if k else 0.0) + 0.25,
            "mark_pass",
            s,
            mark=f"r{n}",
            source="tap",
        )
        for k, s in enumerate(("s0", "s1"))
        for n, late in enumerate(off[:5])
    ]
    told, fold = played(plan, [*starts(plan), *passes])
    assert not [line for line in told if "misfit" in line]
    assert fold.evidence.outlook.drift[0] == pytest.approx(1200e-6, abs=300e-6)


def test_what_is_kept_in_mind_of_a_chain_that_keeps_its_rates_is_not_believed() -> None:
    """Nothing speaks for a change where every pass is where it should be."""
    changes = Changes(2, SIZE, SPLICES, CLOCKS, tells_stops=False)
    changes.keep(0)
    changes.keep(2)
    changes.predict(np.array([600.0, 600.0]))
    row = ROW
    changes.learn(row, 0.01 * row, 0.0, 0.0004)
    assert changes.likeliest(0.0) is None


def seen(kept: Collection[int]) -> Estimate:
    """One motor that is later from pass to pass; it may have changed after each of those that are kept in mind."""
    plan = chain_plan(2, timing="rate_walk_ppm_per_sqrt_hour = 0.0")
    estimate = Estimate(plan, 0)
    estimate.turn([0, 1], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=SIGMA_S)
    for number, late_s in enumerate(LATE_S):
        estimate.advance((number + 1) * 600_000_000)
        assert estimate.see_pass(0, (number + 1) * 600.0 - late_s, SIGMA_S)
        if number in kept:
            estimate._changes.keep(0)
    return estimate


def test_what_a_suspect_does_to_its_links_is_what_the_whole_state_would_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """Slack, drift and their variances, as if the change had been taken into the state with the widest prior."""
    monkeypatch.setattr(changes, "_SHARES", np.array([1.0]))
    monkeypatch.setattr(Changes, "is_new", lambda _self, _x_s: False)
    monkeypatch.setattr(changes, "_AS_LIKELY", -math.inf)
    estimate = seen([1])
    suspects = estimate.suspects(estimate.ahead()[1].links, 1.0)
    change = estimate._changes.likeliest(1.0)
    assert change is not None
    estimate._mean += change.mean
    estimate._cov += change.cov
    (whole,) = estimate.outlook().links_beside(0)
    assert (suspects.stations.tolist(), suspects.links.tolist()) == ([0], [0])
    assert suspects.slack[0] == pytest.approx(whole.slack, rel=1e-9)
    assert suspects.drift[0] == pytest.approx(whole.drift, rel=1e-9)
    assert suspects.slack_var[0] == pytest.approx(whole.slack_var, rel=1e-6)


def test_what_one_motor_does_makes_no_suspect_of_its_neighbours() -> None:
    """s1 runs off; the passes of s2 speak of a change too, until that of s1 is taken into account."""
    plan = chain_plan(4, minutes=120, inputs=("contact", "contact", "none", "tap"))
    late_s = {1: 0.38, 2: -0.38}
    passes = [
        event(
            plan,
            40.0 + plan.ahead_s[k] + 600.0 * n + late_s.get(k, 0.0) * max(n - 2, 0),
            "mark_pass",
            station.id,
            mark=f"r{n}",
            source="tap",
        )
        for k, station in enumerate(plan.stations)
        for n in range(6)
    ]
    _, fold = played(plan, [*starts(plan), *passes])
    suspects = fold.evidence.estimate.suspects(fold.evidence.estimate.ahead()[1].links, 1.0)
    most = dict(zip(suspects.stations.tolist(), suspects.sd.tolist(), strict=True))
    assert most[1] > most[2] > 3.0
    strong = {one.station for one in fold.evidence.prospect.supposed.values() if one.strong}
    assert strong == {1}


@pytest.mark.parametrize("late_s", [0.3, 1.5])
def test_an_outlier_speaks_for_a_change_by_how_much_likelier_that_makes_it_than_a_slip(late_s: float) -> None:
    """By SciPy: the density of a change of its prior size, over that of slips, as twice the logarithm."""
    changes, row, variance, slips_per_s = Changes(2, SIZE, SPLICES, CLOCKS, tells_stops=False), ROW, 0.0016, 1e-3
    changes.keep(0)
    changes.doubt(row, late_s, variance, slips_per_s, own=True)
    spread_s = (variance + _OWN_SIGMA[0] ** 2) ** 0.5
    expected = 2.0 * (norm.logpdf(late_s, scale=spread_s) - np.log(slips_per_s))
    assert changes._odds(changes._spoken())[0] == pytest.approx(expected, rel=1e-9)


def test_an_outlier_that_no_change_explains_speaks_for_none() -> None:
    """A minute is no jump of a motor: it was a slip, with the change as without."""
    changes = Changes(2, SIZE, SPLICES, CLOCKS, tells_stops=False)
    changes.keep(0)
    changes.doubt(ROW, 60.0, 0.0016, 1e-3, own=True)
    assert changes._odds(changes._spoken())[0] == pytest.approx(0.0)
