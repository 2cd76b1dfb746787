"""How long reserves last, against the check value, exact normal laws and simulated shows."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from server.planning.life import Drift, drift_of, lives_of, probability_spent, spent_after_s
from tests.planning.chains import chain

Array = NDArray[np.float64]
# Of a standard normal: half of it lies within this, and all but 5 % within the next.
HALF_SD = 0.674490
OUTER_5_SD = 1.959964


def test_a_thousandth_eats_two_seconds_in_2000() -> None:
    """0.1 % between two motors eats a 2 s reserve in 2000 s (exact arithmetic): so long lasts the median of them."""
    drift = Drift(0.0, 0.0, 0.001 / HALF_SD, 0.0)
    assert spent_after_s(drift, 2.0, 0.5) == pytest.approx(2000.0, rel=1e-4)
    assert spent_after_s(Drift(0.0, 0.0, 0.001 / OUTER_5_SD, 0.0), 2.0, 0.05) == pytest.approx(2000.0, rel=1e-4)


def test_what_two_motors_differ_by() -> None:
    """Two motors and two starts differ by the root of two of one; a later second motor leaves its link loose."""
    plan = chain(
        (100.0, 8),
        timing="rate_tolerance_ppm = 100\nstart_spread_s = 0.3\nrunup_sigma_s = 0.4\nrate_walk_ppm_per_sqrt_hour = 60",
        stations={1: "start_offset_s = 0.5"},
    )
    drift = drift_of(plan, 0)
    assert drift == pytest.approx((0.5, math.sqrt(2) * 0.5, math.sqrt(2) * 1e-4, math.sqrt(2) * 1e-6))


def simulated(drift: Drift, reserve_s: float, until_s: float, shows: int) -> tuple[float, float]:
    """Share of shows in which slack has been past the reserve at any step by then, and at half of the time.

    Each show draws its start and its difference of rates, and lets that wander in steps of a 400th of the time.
    """
    chance = np.random.default_rng(17)
    steps = 400
    step_s = until_s / steps
    slack: Array = drift.start_s + drift.start_sd_s * chance.standard_normal(shows)
    rate: Array = drift.rate_sd * chance.standard_normal(shows)
    spent = np.abs(slack) > reserve_s
    half = 0.0
    for step in range(1, steps + 1):
        walked = drift.walk_sd * math.sqrt(step_s) * chance.standard_normal(shows)
        slack = slack + (rate + walked / 2.0) * step_s
        rate = rate + walked
        spent |= np.abs(slack) > reserve_s
        half = float(spent.mean()) if step == steps // 2 else half
    return float(spent.mean()), half


@pytest.mark.parametrize(
    ("drift", "reserve_s"),
    [
        (Drift(0.0, 0.14, 70e-6, 4.7e-7), 0.7),  # synchronous motors of the format's defaults, a short reserve
        (Drift(0.0, 0.85, 70e-6, 4.7e-7), 2.0),  # started by hand
        (Drift(0.5, 0.14, 4.2e-3, 4.7e-7), 2.0),  # induction motors, planned half a second apart
        (Drift(0.0, 0.0, 1e-6, 4e-6), 1.5),  # nothing but wander
    ],
)
def test_probabilities_are_those_of_simulated_shows(drift: Drift, reserve_s: float) -> None:
    """Of 40,000 simulated shows as many spend their reserve by a time as is foretold, within their own chance."""
    until_s, shows = 7200.0, 40_000
    all_of_it, half_of_it = simulated(drift, reserve_s, until_s, shows)
    for told, seen in (
        (probability_spent(drift, reserve_s, until_s), all_of_it),
        (probability_spent(drift, reserve_s, until_s / 2.0), half_of_it),
    ):
        assert told == pytest.approx(seen, abs=4.0 * math.sqrt(0.25 / shows))
    if drift.rate_sd < 1e-3:
        assert 0.01 < all_of_it < 0.99, "the case tells nothing"


def test_a_reserve_that_lasts_a_day_is_not_timed() -> None:
    """Past a day no time is told; a reserve of nothing, or spent by the plan's own offsets, is spent at once."""
    steady = Drift(0.0, 0.0, 1e-9, 0.0)
    assert spent_after_s(steady, 2.0, 0.05) is None
    assert probability_spent(steady, 0.0, 0.0) == 1.0
    assert spent_after_s(Drift(3.0, 0.01, 1e-9, 0.0), 2.0, 0.5) == pytest.approx(0.0, abs=1e-3)


def test_a_reserve_is_watched_until_the_film_is_out() -> None:
    """A link's show lasts until the film's end has left the gate above; further down that is later, and riskier."""
    plan = chain((500.0, 8), (100.0, 8), timing='motors = "induction"')
    first, second = lives_of(plan)
    assert (first.id, second.id) == ("st0>st1", "st1>st2")
    assert first.runs_s == plan.print_s
    assert second.runs_s == pytest.approx(plan.print_s + 500 * 0.3048 / 0.456)
    assert 0.5 < first.spent_before_out < second.spent_before_out < 1.0
    assert first.spent_p05_s is not None
    assert first.spent_p50_s is not None
    assert 0.0 < first.spent_p05_s < first.spent_p50_s < first.runs_s
