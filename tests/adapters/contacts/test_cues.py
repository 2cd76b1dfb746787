"""Which mark a foil was: each pulse is judged by its own time."""

from adapters.base import ExpectedPass
from adapters.contacts.cues import mark_of_pulse, same_foil

S = 1_000_000
EXPECTED = [
    ExpectedPass("head", False, 40 * S, 0.1),
    ExpectedPass("t1", True, 40 * S, 0.1),
    ExpectedPass("t2", True, 180 * S, 0.2),
    ExpectedPass("feature", True, 400 * S, 30.0),
]


def test_the_nearest_cue_mark_is_the_one() -> None:
    """A pulse a little early or late is still the mark that is due."""
    assert mark_of_pulse(41 * S, EXPECTED, {}) == "t1"
    assert mark_of_pulse(171 * S, EXPECTED, {}) == "t2"


def test_a_pulse_that_was_missed_puts_nothing_out_of_step() -> None:
    """Where t1 never came, the pulse at the time of t2 is t2."""
    assert mark_of_pulse(180 * S, EXPECTED, {}) == "t2"


def test_a_foil_that_pulses_twice_is_one_mark() -> None:
    """Two pulses within seconds are one foil; a later one near the same mark is no other mark."""
    posted = {"t1": 41 * S}
    assert same_foil(42 * S, posted) == "t1"
    assert same_foil(47 * S, posted) is None
    assert mark_of_pulse(47 * S, EXPECTED, posted) is None


def test_a_pulse_far_from_every_mark_is_none_of_them() -> None:
    """A hand on the detector is no trailer; where the estimate is unsure, its window is wider."""
    assert mark_of_pulse(105 * S, EXPECTED, {}) is None
    assert mark_of_pulse(520 * S, EXPECTED, {}) == "feature"
    assert mark_of_pulse(560 * S, EXPECTED, {}) is None


def test_a_print_without_cues_has_no_mark_for_a_pulse() -> None:
    """The head is no foil."""
    assert mark_of_pulse(40 * S, EXPECTED[:1], {}) is None
