"""Which mark a cue detector saw: it only says that one went by."""

from collections.abc import Mapping, Sequence
from typing import Final

from adapters.base import ExpectedPass

AGAIN_US: Final = 5_000_000
"""A second pulse for the same mark within this is the same foil. Chosen: foils are many seconds apart."""

WINDOW_S: Final = 60.0
"""No mark is taken for a pulse that is further from its time than this, or than WINDOW_SD of its estimate. Chosen."""

WINDOW_SD: Final = 5.0


def mark_of_pulse(at_us: int, expected: Sequence[ExpectedPass], posted: Mapping[str, int]) -> str | None:
    """The cue mark that is nearest in time to a pulse; None where none is near, or its detector has had that one.

    A pulse that was missed does not put the next ones out of step, for each is judged by its own time. `posted` are the
    marks that this detector has had, and when.
    """
    cues = [each for each in expected if each.cue]
    nearest = min(cues, key=lambda each: abs(posted.get(each.mark, each.at_us) - at_us), default=None)
    if nearest is None or nearest.mark in posted:
        return None
    within_s = max(WINDOW_S, WINDOW_SD * nearest.sd_s)
    return nearest.mark if abs(nearest.at_us - at_us) <= 1e6 * within_s else None


def same_foil(at_us: int, posted: Mapping[str, int]) -> str | None:
    """The mark that this detector has just had, where a pulse so soon after can only be the same foil again."""
    return next((mark for mark, seen_us in posted.items() if abs(at_us - seen_us) <= AGAIN_US), None)
