"""The estimate against the exact solution of the same problem, a general filter library, and worked figures."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter
from numpy.typing import NDArray
from scipy.linalg import lstsq

from server.timeline.estimate import Estimate
from server.timeline.events import Event, order_key
from server.timeline.evidence import Evidence
from server.timeline.forecast import gone_after_s, normal_tail
from server.timeline.plan import Plan
from tests.adapters.shows import chain_plan
from tests.bench.truth.batch import Batch
from tests.timeline.story import event, plan_of, played, starts

Array = NDArray[np.float64]
NO_WANDER = "rate_walk_ppm_per_sqrt_hour = 0.0\ncontact_sigma_s = 0.02"


def passes(plan: Plan, rng: np.random.Generator) -> list[Event]:
    """Every mark at every gate, with rates and paths that differ from the plan and errors of a contact."""
    n = len(plan.stations)
    rate = 1.0 + rng.normal(0, 1e-3) + rng.normal(0, 50e-6, n)
    transit = np.asarray([link.transit_s for link in plan.links])
    ahead = np.concatenate([[0.0], np.cumsum(transit * (1.0 + rng.normal(0, 0.01, n - 1)))])
    return [
        event(plan, (mark.x_s + ahead[k]) / rate[k] + rng.normal(0, 0.02), "mark_pass", station.id, mark=mark.id)
        for k, station in enumerate(plan.stations)
        for mark in plan.marks
        if mark.cue
    ]


def batch_slack(plan: Plan, events: Sequence[Event], at_s: float) -> tuple[Array, Array]:
    """Slack of every link by one weighted least-squares solution of all equations at once (SciPy's `lstsq`).

    Unknowns: each motor's start, its own rate, the common rate, the path errors; every prior is an equation.
    """
    n = len(plan.stations)
    timing = plan.timing
    start, own, common, path = (
        np.arange(n),
        np.arange(n, 2 * n),
        2 * n,
        np.arange(2 * n + 1, 3 * n),
    )
    rows, values, sigmas = list(np.eye(3 * n)), [0.0] * (3 * n), [0.0] * (3 * n)
    for k in range(n):
        sigmas[start[k]], sigmas[own[k]] = timing.contact_sigma_s, timing.rate_tolerance_ppm * 1e-6
    sigmas[common] = timing.line_tolerance_ppm * 1e-6
    for i, link in enumerate(plan.links):
        sigmas[path[i]] = link.transit_s * timing.path_tolerance_percent / 100.0
    for one in events:
        if one.kind != "mark_pass":
            continue
        k, t = plan.station_index[one.station or ""], (one.t - plan.zero).total_seconds()
        row = np.zeros(3 * n)
        row[start[k]], row[own[k]], row[common] = -1.0, t, t
        row[path[:k]] = -1.0
        rows.append(row)
        values.append(plan.mark(one.mark or "").x_s + plan.ahead_s[k] - t)
        sigmas.append(timing.contact_sigma_s)
    weights = 1.0 / np.asarray(sigmas)
    design = np.asarray(rows) * weights[:, None]
    solution = lstsq(design, np.asarray(values) * weights)[0]
    cov = np.linalg.inv(design.T @ design)
    slack = np.zeros((n - 1, 3 * n))
    for i in range(n - 1):
        slack[i, [start[i], start[i + 1]]] = -1.0, 1.0
        slack[i, [own[i], own[i + 1]]] = at_s, -at_s
    return slack @ solution, np.sqrt(np.einsum("ij,jk,ik->i", slack, cov, slack))


@pytest.mark.parametrize("seed", range(3))
def test_slack_is_that_of_the_batch_solution(seed: int) -> None:
    """Without wander the filter and one least-squares solution of all the evidence agree to rounding."""
    plan = plan_of(6, timing=NO_WANDER)
    events = [*starts(plan), *passes(plan, np.random.default_rng(seed))]
    events.sort(key=lambda one: order_key(one, plan))
    evidence = Evidence(plan, 0)
    for one in events:
        evidence.apply(one)
    at_s = evidence.estimate.at_us / 1e6
    slack, sd = batch_slack(plan, events, at_s)
    outlook = evidence.outlook
    assert outlook.slack == pytest.approx(slack, abs=2e-6)
    assert [math.sqrt(var[0]) for var in outlook.slack_var] == pytest.approx(sd, rel=1e-5)


def test_a_general_filter_library_says_the_same() -> None:
    """One station with wander, stepped by filterpy's Kalman filter with the standard continuous white-noise model."""
    plan = plan_of(1)
    estimate = Estimate(plan, 0)
    estimate.turn([0], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=0.02)
    other = KalmanFilter(dim_x=2, dim_z=1)
    walk = (20e-6) ** 2 / 3600.0
    other.x = np.array([[0.0], [1.0]])
    other.P = np.diag([0.02**2, (1000e-6) ** 2 + (50e-6) ** 2])
    other.H = np.array([[1.0, 0.0]])
    other.R = np.array([[0.02**2]])
    for at_s, x_s in ((40.0, 40.01), (180.0, 180.03), (320.0, 320.02), (6320.0, 6320.9)):
        dt = at_s - estimate.at_us / 1e6
        other.predict(F=np.array([[1.0, dt], [0.0, 1.0]]), Q=walk * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]]))
        other.update(x_s)
        estimate.advance(round(at_s * 1e6))
        assert estimate.see_pass(0, x_s, 0.02)
    outlook = estimate.outlook()
    assert outlook.fed_s[0] == pytest.approx(other.x[0, 0], abs=1e-9)
    assert outlook.rate[0] == pytest.approx(other.x[1, 0], abs=1e-12)
    assert outlook.eta_var[0][0] == pytest.approx(other.P[0, 0], rel=1e-9)


def test_many_short_steps_are_one_long_one() -> None:
    """Prediction is exact: asking in between changes nothing."""
    plan = plan_of(4)
    one, many = Estimate(plan, 0), Estimate(plan, 0)
    for estimate in (one, many):
        estimate.turn(range(4), running=True, shift_s=0.0, common_sigma_s=0.1, own_sigma_s=0.02)
    one.advance(7_200_000_000)
    for minute in range(1, 121):
        many.advance(minute * 60_000_000)
    for long, short in zip(one.outlook()[1:], many.outlook()[1:], strict=True):
        assert np.asarray(long) == pytest.approx(np.asarray(short), rel=1e-9, abs=1e-12)


def test_twelve_hours_leave_a_sound_covariance() -> None:
    """No variance is negative or lost after 30 stations were seen 200 times each over twelve hours."""
    plan = plan_of(26)
    estimate = Estimate(plan, 0)
    estimate.turn(range(26), running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=0.02)
    for step in range(1, 201):
        estimate.advance(step * 216_000_000)
        for k in range(26):
            assert estimate.see_pass(k, step * 216.0 - plan.ahead_s[k], 0.02)
    eigenvalues = np.linalg.eigvalsh(estimate._cov)
    assert eigenvalues[0] > -1e-12
    assert np.all(np.diag(estimate._cov) >= 0.0)


def test_a_thousandth_between_two_motors_spends_two_seconds_in_two_thousand() -> None:
    """0.1 % eats a 2 s reserve in 2000 s (exact arithmetic from the slip table)."""
    plan = plan_of(
        2,
        timing="rate_tolerance_ppm = 0.0\nline_tolerance_ppm = 0.0\nrate_walk_ppm_per_sqrt_hour = 0.0",
    )
    estimate = Estimate(plan, 0)
    estimate.turn([0, 1], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=1e-6)
    now = estimate.ahead()[1].links._replace(drift=np.asarray([1e-3]))
    half = gone_after_s(now, np.asarray([2.0]), (0.5,), 7200.0)[0][0]
    assert half == pytest.approx(2000.0, rel=1e-3)


def test_an_error_of_the_mains_moves_all_motors_and_no_slack() -> None:
    """Only the common rate is uncertain: slack stays certain however long it runs."""
    plan = plan_of(2, timing="rate_tolerance_ppm = 0.0\nrate_walk_ppm_per_sqrt_hour = 0.0")
    _, fold = played(plan, [event(plan, 0.0, "motor_start", s, sigma_s=0.0) for s in ("a", "b")], 7200.0)
    a, b, c, w = fold.evidence.outlook.slack_var[0]
    assert abs(a) + abs(b) + abs(c) + abs(w) < 1e-15


def test_the_normal_tail_is_that_of_the_error_function() -> None:
    """Abramowitz and Stegun 26.2.17 promise 7.5e-8; Python's `erfc` is exact to rounding."""
    z = np.linspace(-6.0, 6.0, 241)
    exact = [0.5 * math.erfc(x / math.sqrt(2.0)) for x in z]
    assert normal_tail(z) == pytest.approx(np.asarray(exact), abs=7.5e-8)


def test_a_motor_that_changed_speed_is_believed_the_second_time() -> None:
    """One late pass is a misfit; a second that the same change of rate explains opens the state up to both."""
    plan = plan_of(1)
    told, fold = played(
        plan,
        [
            *starts(plan),
            event(plan, 40.0, "mark_pass", "a", mark="t1"),
            event(plan, 181.4, "mark_pass", "a", mark="t2"),
            event(plan, 322.8, "mark_pass", "a", mark="film"),
        ],
    )
    assert "181.4 raised note misfit:a" in told
    assert fold.evidence.outlook.rate[0] == pytest.approx(140.0 / 141.4, abs=5e-4)
    assert fold.evidence.stations[0].passes["film"] == 322_800_000


def test_a_chain_start_is_one_error_for_all() -> None:
    """Its own error moves every count and no slack; each motor's spread moves slack."""
    plan = plan_of(
        2, motor="tap", timing="start_spread_s = 0.05\nrate_tolerance_ppm = 0.0\nrate_walk_ppm_per_sqrt_hour = 0.0"
    )
    _, fold = played(plan, [event(plan, 0.25, "chain_start", source="tap")])
    outlook = fold.evidence.outlook
    assert outlook.slack_var[0][0] == pytest.approx(2 * 0.05**2)
    assert outlook.eta_var[0][0] == pytest.approx(0.3**2 + 0.05**2)


def test_two_sources_of_one_start_are_one_start_at_the_better_time() -> None:
    """A tap 0.2 s off hardly moves what a contact said."""
    plan = plan_of(1)
    _, fold = played(
        plan, [event(plan, 0.0, "motor_start", "a"), event(plan, 0.45, "motor_start", "a", source="tap")], 10.0
    )
    outlook = fold.evidence.outlook
    start_s = outlook.at_us / 1e6 - outlook.fed_s[0]
    assert 0.0 < start_s < 0.002
    assert outlook.eta_var[0][0] < 0.02**2


def test_a_thousandth_between_two_motors_eats_a_frame_in_42_seconds() -> None:
    """0.1 % of 41.7 s is 1/24 s, one frame at 24 a second, 19 mm of 35 mm (exact arithmetic from the slip table)."""
    plan = plan_of(2, timing="rate_tolerance_ppm = 0.0\nline_tolerance_ppm = 0.0\nrate_walk_ppm_per_sqrt_hour = 0.0")
    estimate = Estimate(plan, 0)
    estimate.turn([0, 1], running=True, shift_s=0.0, common_sigma_s=0.0, own_sigma_s=1e-6)
    estimate.open(1, 0.0, 1.0)
    estimate.advance(1_000_000_000)
    assert estimate.see_slack(0, 1.0, 1e-6)
    assert estimate.outlook().drift == pytest.approx([1e-3], rel=1e-6)
    before_s = estimate.outlook().slack[0]
    estimate.advance(1_041_700_000)
    eaten_s = estimate.outlook().slack[0] - before_s
    assert eaten_s == pytest.approx(1.0 / 24.0, rel=1e-3)
    assert eaten_s * plan.film.speed_m_per_s == pytest.approx(0.019, rel=1e-3)


def test_twelve_hours_of_thirty_stations_are_sound_and_exact() -> None:
    """After 720 passes the covariance is symmetric and positive, and the estimate is the batch solution with wander."""
    plan = chain_plan(30, minutes=720)
    marks = [mark for mark in plan.marks if mark.cue][::3]
    rng = np.random.default_rng(12)
    events = [event(plan, rng.normal(0.0, 0.02), "motor_start", station.id) for station in plan.stations]
    events += [
        event(plan, mark.x_s + plan.ahead_s[k] + rng.normal(0.0, 0.02), "mark_pass", station.id, mark=mark.id)
        for k, station in enumerate(plan.stations)
        for mark in marks
    ]
    events.sort(key=lambda one: order_key(one, plan))
    evidence = Evidence(plan, -1_000_000)
    for one in events:
        evidence.apply(one)
    cov = evidence.estimate._cov
    assert np.abs(cov - cov.T).max() <= 1e-12 * np.abs(cov).max()
    assert np.linalg.eigvalsh(cov)[0] > -1e-12
    best = Batch(plan, events).outlook(evidence.estimate.at_us / 1e6)
    assert evidence.outlook.slack == pytest.approx(best.slack, abs=1e-5)
    assert np.asarray(evidence.outlook.slack_var) == pytest.approx(np.asarray(best.slack_var), rel=1e-4, abs=1e-15)
