"""A change that is kept in mind is known exactly as if it had been part of the state from the start."""

from collections.abc import Collection

import numpy as np
import pytest
from scipy.linalg import lstsq

from server.timeline.changes import _OWN_SIGMA, Changes
from server.timeline.estimate import Estimate
from tests.adapters.shows import chain_plan
from tests.timeline.story import event, played, starts

PRIOR_RATE, SIGMA_S = 50e-6, 0.02


def test_a_change_is_known_as_the_batch_solution_knows_it() -> None:
    """One motor, a jump and a rate change after the second pass: filter and change together are one least squares."""
    plan = chain_plan(1, timing="rate_walk_ppm_per_sqrt_hour = 0.0\nline_tolerance_ppm = 0.0")
    at_s = np.array([600.0, 1200.0, 1800.0, 2400.0, 3000.0])
    late_s = np.array([0.01, -0.02, 0.06, 0.13, 0.24])
    estimate = Estimate(plan, 0)
    estimate.turn([0], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=SIGMA_S)
    changes = estimate._changes
    for number, (t, late) in enumerate(zip(at_s, late_s, strict=True)):
        estimate.advance(round(t * 1e6))
        assert estimate.see_pass(0, t - late, SIGMA_S)
        if number == 1:
            changes.keep(0)
        elif number == 2:
            changes.settle(0, 600.0)
    change = changes.likeliest(1.0)
    assert change is not None
    after = np.maximum(at_s - 1200.0, 0.0)
    unknowns = np.column_stack([np.ones(5), at_s, after > 0.0, after]) / SIGMA_S
    priors = np.diag([1.0 / SIGMA_S, 1.0 / PRIOR_RATE, 1.0 / _OWN_SIGMA[0], 1.0 / _OWN_SIGMA[1]])
    priors[2, 3] = 300.0 / _OWN_SIGMA[0]
    design = np.vstack([unknowns, priors])
    found = lstsq(design, np.concatenate([-late_s / SIGMA_S, np.zeros(4)]))[0]
    cov = np.linalg.inv(design.T @ design)
    now = np.array([[1.0, 3000.0, 1.0, 1800.0], [0.0, 1.0, 0.0, 1.0]])
    mean = estimate._mean + change.mean
    assert [mean[0] - 3000.0, mean[1]] == pytest.approx(now @ found, rel=1e-6)
    assert (estimate._cov + change.cov)[:2, :2] == pytest.approx(now @ cov @ now.T, rel=1e-6)


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
    changes = Changes(2, 6)
    changes.keep(0)
    changes.keep(2)
    changes.predict(np.array([600.0, 600.0]))
    row = np.array([1.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    changes.learn(row, 0.01 * row, 0.0, 0.0004)
    assert changes.likeliest(0.0) is None


LATE_S = (0.01, -0.02, 0.06, 0.13, 0.24)


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


def test_since_when_a_motor_is_off_is_not_known_and_what_is_believed_says_so() -> None:
    """One answer for each instant, put together by their probabilities: mean and covariance of that mixture."""
    alone = [seen([number])._changes for number in (0, 1, 2)]
    together = seen([0, 1, 2])._changes.likeliest(0.0)
    changes = [change for one in alone if (change := one.likeliest(0.0)) is not None]
    assert together is not None
    found = [one.suspects(0.0) for one in alone]
    weights = np.array([np.exp(0.5 * one.sd[0] ** 2) * np.linalg.det(one.spread[:, :, 0]) ** 0.5 for one in found])
    weights /= weights.sum()
    mean = np.sum([weight * change.mean for weight, change in zip(weights, changes, strict=True)], axis=0)
    second = [change.cov + np.outer(change.mean, change.mean) for change in changes]
    cov = np.tensordot(weights, second, axes=1) - np.outer(mean, mean)
    assert together.mean == pytest.approx(mean, rel=1e-9, abs=1e-15)
    assert together.cov == pytest.approx(cov, rel=1e-6, abs=1e-15)


def test_what_a_suspect_does_to_its_links_is_what_the_whole_state_would_say() -> None:
    """Slack, drift and their variances, as if the change had been taken into the state."""
    estimate = seen([1])
    suspects = estimate.suspects(estimate.outlook(), 1.0)
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
    suspects = fold.evidence.estimate.suspects(fold.evidence.outlook, 1.0)
    most = dict(zip(suspects.stations.tolist(), suspects.sd.tolist(), strict=True))
    assert most[1] > most[2] > 3.0
    strong = {one.station for one in fold.evidence.prospect.supposed.values() if one.strong}
    assert strong == {1}
