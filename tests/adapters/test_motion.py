"""The motion of film in closed form, held against plain sums of small steps and against arithmetic."""

import numpy as np
import pytest

from adapters.drill.motion import Curve, first_past_s
from adapters.drill.motors import PPM, Inch, Motor, RateStep, Spell, wander

FLAT = Motor(0.0, np.zeros(2))
FOREVER = float("inf")


def steady(rate_ppm: float, on_s: float = 0.0) -> Curve:
    return Motor(rate_ppm, np.zeros(2)).curve([Spell(on_s, FOREVER, 0.0, 0.0)], [], 10_000.0)


def test_a_curve_is_the_sum_of_its_small_steps() -> None:
    """Film fed is the integral of the speed, whatever the speed does."""
    rng = np.random.default_rng(5)
    motor = Motor(900.0, wander(rng, 400.0, 200.0), (RateStep(40.0, 90.0, -20_000.0),))
    curve = motor.curve([Spell(3.0, 60.0, 0.8, 0.3), Spell(75.0, FOREVER, 0.8, 0.3)], [Inch(66.0, 2.0)], 160.0)
    t_s = np.linspace(0.0, 160.0, 1_600_001)
    fed_s = np.concatenate(([0.0], np.cumsum(curve.rate(0.5 * (t_s[1:] + t_s[:-1])) * np.diff(t_s))))
    assert np.max(np.abs(curve.count(t_s) - fed_s)) < 2e-4  # the sum's own error where the speed jumps


def test_running_up_loses_and_coasting_adds_what_is_asked_of_them() -> None:
    """model.md: each start takes `runup_loss_s` off the count and each stop adds `coast_s`."""
    curve = FLAT.curve([Spell(10.0, 110.0, 0.75, 0.4)], [], 200.0)
    assert curve.count_at(10.0) == 0.0
    assert curve.count_at(60.0) == pytest.approx(50.0 - 0.75)
    assert curve.count_at(200.0) == pytest.approx(100.0 - 0.75 + 0.4)


def test_a_motor_stopped_as_it_runs_up_coasts_from_the_speed_it_had() -> None:
    """Half way up it has half the speed: a quarter of the ramp's film, and half of the coast's."""
    curve = FLAT.curve([Spell(0.0, 1.0, 1.0, 0.4)], [], 50.0)
    assert curve.count_at(50.0) == pytest.approx(0.5 * 1.0 * 0.5 + 0.5 * 0.4)


@pytest.mark.parametrize("at_s", [0.0, 1.0, 60.0, 3000.0])
def test_a_time_is_found_again_from_its_count(at_s: float) -> None:
    """`time_at` is the inverse of `count`."""
    curve = Motor(-700.0, wander(np.random.default_rng(1), 300.0, 4000.0)).curve(
        [Spell(0.0, FOREVER, 0.5, 0.0)], [], 4000.0
    )
    assert curve.time_at(curve.count_at(at_s)) == pytest.approx(at_s, abs=1e-6)


def test_film_that_stands_reaches_nothing_more() -> None:
    """A mark beyond where the film stopped never passes."""
    curve = FLAT.curve([Spell(0.0, 100.0, 0.0, 0.0)], [], 1000.0)
    assert curve.time_at(100.0) == pytest.approx(100.0)
    assert curve.time_at(100.1) is None


def test_a_tenth_of_a_percent_eats_two_seconds_in_two_thousand() -> None:
    """check-values.md, "what slip does" (derived): 0.1 % between two motors, a 2 s reserve in 2000 s."""
    past = first_past_s(steady(0.0), steady(1000.0), 2.0, 0.0, 9000.0)
    assert past is not None
    assert past == pytest.approx((2000.0, -2.0), abs=1e-4)


def test_a_tenth_of_a_percent_eats_a_frame_in_forty_two_seconds() -> None:
    """check-values.md, "what slip does" (derived): one 35 mm frame at 24 a second in 41.7 s."""
    past = first_past_s(steady(1000.0), steady(0.0), 1.0 / 24.0, 0.0, 9000.0)
    assert past is not None
    assert past[0] == pytest.approx(41.7, abs=0.05)


def test_a_link_within_its_reserve_is_never_past_it() -> None:
    """Two motors alike leave the link as it was threaded."""
    assert first_past_s(steady(300.0), steady(300.0), 0.001, 0.0, 9000.0) is None


def test_a_late_start_leaves_the_link_loose_by_as_much() -> None:
    """model.md: a start that is late at the second station by `d` leaves the link `d` seconds loose."""
    upstream, late = steady(0.0), steady(0.0, on_s=1.3)
    assert upstream.count_at(500.0) - late.count_at(500.0) == pytest.approx(1.3)


def test_wander_is_a_random_walk_of_the_asked_size() -> None:
    """After an hour of running, one standard deviation is `rate_walk_ppm_per_sqrt_hour`; after four, twice that."""
    walks = np.array([wander(np.random.default_rng(n), 20.0, 14_400.0) for n in range(600)])
    assert walks[:, 0].tolist() == [0.0] * 600
    assert np.std(walks[:, 1800]) == pytest.approx(20.0, rel=0.12)  # four standard errors of 600
    assert np.std(walks[:, 7200]) == pytest.approx(40.0, rel=0.12)


def test_a_walk_stands_while_the_motor_stands() -> None:
    """model.md: the rate wanders in running time, so a stop leaves it where it was."""
    motor = Motor(0.0, wander(np.random.default_rng(2), 5000.0, 3000.0))
    running = motor.curve([Spell(0.0, FOREVER, 0.0, 0.0)], [], 3000.0)
    stopped = motor.curve([Spell(0.0, 500.0, 0.0, 0.0), Spell(900.0, FOREVER, 0.0, 0.0)], [], 3000.0)
    t_s = np.linspace(500.5, 2500.0, 97)
    assert stopped.rate(t_s + 400.0) == pytest.approx(running.rate(t_s), abs=1e-9)
    assert stopped.count_at(2900.0) == pytest.approx(running.count_at(2500.0))


def test_film_that_slips_its_sprockets_never_runs_backward() -> None:
    """A jump is a time at no speed, or at twice the speed; the count only grows."""
    motor = Motor(-800.0, np.zeros(2), (RateStep(10.0, 10.7, -1.0 / PPM),))
    curve = motor.curve([Spell(0.0, FOREVER, 0.0, 0.0)], [], 100.0)
    assert np.all(np.diff(curve.count(np.linspace(0.0, 100.0, 9001))) >= 0.0)
    assert curve.count_at(100.0) == pytest.approx(99.3 * (1 - 800e-6))
