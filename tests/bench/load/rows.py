"""What was measured, beside what it is to be."""

import math
from collections.abc import Sequence
from typing import NamedTuple


class Row(NamedTuple):
    """One measure: `figures` as they are told, `goal` in words, and whether it is met; None where there is none."""

    what: str
    figures: str
    goal: str = ""
    is_met: bool | None = None


def at_most(what: str, figure: float, most: float, unit: str, more: str = "", digits: int = 0) -> Row:
    """A figure that is to be no more than `most`."""
    said = f"{figure:.{digits}f} {unit}{f'; {more}' if more else ''}"
    return Row(what, said, f"{most:g} {unit}", figure <= most)


def share_of(values: Sequence[float], share: float) -> float:
    """The value that so large a share of them does not exceed (nearest rank); NaN of none."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)] if ordered else math.nan


def p50_p99_ms(seconds: Sequence[float]) -> str:
    """Both, in ms."""
    return f"{share_of(seconds, 0.5) * 1000:.1f} / {share_of(seconds, 0.99) * 1000:.0f} ms"
