"""What is learned of a change after it was believed, against conditioning one joint Gaussian on all at once."""

import numpy as np
import pytest

from server.timeline.believed import Believed

SIZE = 5
OWN, COMMON = slice(2, 4), 4


def joint(rng: np.random.Generator) -> tuple[Believed, np.ndarray, np.ndarray]:
    """A change and a state that vary together: the change, the state's mean and the covariance of both."""
    root = rng.normal(size=(SIZE + 2, SIZE + 2))
    cov = root @ root.T
    theta = rng.normal(size=2)
    return Believed(0, 1, theta, cov[SIZE:, SIZE:], cov[:SIZE, SIZE:]), rng.normal(size=SIZE), cov


@pytest.mark.parametrize("seed", range(5))
def test_it_is_what_conditioning_on_all_observations_at_once_gives(seed: int) -> None:
    """Mean and covariance by Schur's complement of the joint covariance (any textbook of statistics)."""
    rng = np.random.default_rng(seed)
    believed, mean, cov = joint(rng)
    rows, errors, seen = rng.normal(size=(6, SIZE)), rng.uniform(0.1, 1.0, size=6), rng.normal(size=6)
    both = np.concatenate((rows, np.zeros((6, 2))), axis=1)
    total = both @ cov @ both.T + np.diag(errors**2)
    gain = cov @ both.T @ np.linalg.inv(total)
    expected = np.concatenate((mean, believed.theta)) + gain @ (seen - rows @ mean)
    left = cov - gain @ both @ cov
    state, state_cov = mean.copy(), cov[:SIZE, :SIZE].copy()
    for row, error, one in zip(rows, errors, seen, strict=True):
        along, innovation = state_cov @ row, one - row @ state
        variance = float(row @ along) + error**2
        believed = believed.learned(row, along, float(innovation), variance)
        state = state + along * innovation / variance
        state_cov = state_cov - np.outer(along, along) / variance
    assert believed.theta == pytest.approx(expected[SIZE:])
    assert believed.cov == pytest.approx(left[SIZE:, SIZE:])
    assert believed.cross == pytest.approx(left[:SIZE, SIZE:])


def test_as_the_state_moves_on_so_does_what_they_share() -> None:
    """By the state's own transition: a count grows by its rate, own and common, times how long its motor has run."""
    believed, _, cov = joint(np.random.default_rng(1))
    moved_s = np.array([10.0, 0.0])
    transition = np.eye(SIZE)
    transition[0, 2] = transition[0, COMMON] = 10.0
    later = believed.predicted(moved_s, OWN, COMMON)
    assert later.cross == pytest.approx(transition @ cov[:SIZE, SIZE:])
    assert (later.theta == believed.theta).all()
    assert (later.cov == believed.cov).all()


def test_what_is_forgotten_of_the_state_is_shared_no_more() -> None:
    """The rest stays."""
    believed, _, cov = joint(np.random.default_rng(2))
    cross = believed.forgetting(3).cross
    assert not cross[3].any()
    assert (np.delete(cross, 3, axis=0) == np.delete(cov[:SIZE, SIZE:], 3, axis=0)).all()
