"""The pull of leader past rollers and fixed guides, against worked examples."""

import math

import pytest

from server.planning.pull import EASY_N, MOST_N, REEL_N, effort_of, over_fixed_guides, pull_n


@pytest.mark.parametrize(
    ("friction", "turns_deg", "ratio"),
    [
        (0.3, 360.0, 6.58606),  # Euler-Eytelwein, worked examples (read): mu 0.3, one turn
        (0.25, 900.0, 2000.0 / 39.406),  # the same: mu 0.25, 2.5 turns, 2000 N held by 39.406 N
        (0.3, 0.0, 1.0),
    ],
)
def test_what_fixed_guides_do(friction: float, turns_deg: float, ratio: float) -> None:
    """Film over fixed guides multiplies the pull by exp(mu theta)."""
    assert over_fixed_guides(turns_deg, friction) == pytest.approx(ratio, rel=1e-5)


def test_free_rollers_are_not_fixed_guides() -> None:
    """Ten rollers that take 2 % each leave 0.98^10 = 0.81707 of the pull (exact arithmetic), and no more is lost."""
    assert pull_n(10, 0.0) == pytest.approx(REEL_N / 0.81707, rel=1e-5)
    assert pull_n(0, 0.0) == REEL_N


def test_rollers_and_guides_multiply() -> None:
    """A path with both has the product of both, in whatever order they come."""
    assert pull_n(10, 360.0) == pytest.approx(REEL_N / 0.81707 * 6.58606, rel=1e-5)


@pytest.mark.parametrize(
    ("pull", "effort"),
    [
        (EASY_N, "easy"),
        (math.nextafter(EASY_N, 99.0), "hard"),
        (MOST_N, "hard"),
        (math.nextafter(MOST_N, 99.0), "too hard for one pair of hands"),
    ],
)
def test_the_words_of_a_pull(pull: float, effort: str) -> None:
    """A pull at a limit is still within it."""
    assert effort_of(pull) == effort
