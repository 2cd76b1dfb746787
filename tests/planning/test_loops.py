"""The loop that holds a reserve: catenaries against handbook figures and the parabola of a shallow one."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.planning.loops import length_from_sag, loop_for, sag_from_length


def parabola_sag(span: float, length: float) -> float:
    """The sag of a shallow loop, from L = S + 8 d^2 / 3 S (handbook formula)."""
    return math.sqrt(3.0 * span * (length - span) / 8.0)


@pytest.mark.parametrize(
    ("span", "length", "catenary", "parabola", "tolerance"),
    [
        (100.0, 104.0, 12.418, 12.247, 5e-4),
        (10.0, 10.019, 0.2671, 0.2669, 5e-5),  # one 35 mm frame over
    ],
)
def test_sag_of_handbook_examples(
    span: float, length: float, catenary: float, parabola: float, tolerance: float
) -> None:
    """S 100, L 104 and S 10 m with one frame over hang as the handbook formulas say (read, and exact arithmetic)."""
    assert sag_from_length(span, length) == pytest.approx(catenary, abs=tolerance)
    assert parabola_sag(span, length) == pytest.approx(parabola, abs=tolerance)


@given(st.floats(0.2, 20.0), st.floats(1e-3, 30.0))
def test_sag_and_length_are_each_others_inverse(span: float, sag: float) -> None:
    """A loop that hangs so far has so much film, and with so much film it hangs so far, shallow or deep."""
    assert sag_from_length(span, length_from_sag(span, sag)) == pytest.approx(sag, rel=1e-5)


@given(st.floats(0.2, 20.0), st.floats(1e-3, 0.05))
def test_a_shallow_catenary_is_a_parabola(span: float, part: float) -> None:
    """Where film hangs less than a twentieth of its span both formulas agree within a hundredth."""
    length = length_from_sag(span, part * span)
    assert parabola_sag(span, length) == pytest.approx(part * span, rel=1e-2)


def test_a_deep_loop_is_two_strands() -> None:
    """Film that hangs twenty times its span has both its strands straight down, and little more."""
    assert length_from_sag(0.5, 10.0) == pytest.approx(2 * 10.0, rel=0.03)


def test_taut_film_does_not_hang() -> None:
    """Film no longer than its span has no sag, and no sag needs no more film than the span."""
    assert sag_from_length(2.0, 2.0) == sag_from_length(2.0, 1.5) == 0.0
    assert length_from_sag(2.0, 0.0) == 2.0


def test_a_loop_gives_as_much_as_it_takes() -> None:
    """At rest a loop holds its reserve over its span, and at its fullest it twice; both as the film itself measures."""
    loop = loop_for(1.2, 1.0, 2.0, 0.456)
    assert length_from_sag(1.2, loop.rest_sag_m) == pytest.approx(1.2 + 0.912, abs=1e-6)
    assert length_from_sag(1.2, loop.full_sag_m) == pytest.approx(1.2 + 2 * 0.912, abs=1e-6)
    assert loop_for(1.2, loop.full_sag_m, 2.0, 0.456).holds_s == pytest.approx(2.0, abs=1e-6)
    assert loop_for(1.2, loop.full_sag_m / 2.0, 2.0, 0.456).holds_s < 1.2
