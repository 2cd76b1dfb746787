"""QR codes (ISO/IEC 18004), as a drawing for a page and as text for a terminal."""

import io
from itertools import groupby
from typing import NamedTuple

import segno

QUIET_ZONE = 4
"""Modules of white around it: ISO/IEC 18004, 6.3.8 (from memory)."""


class Drawing(NamedTuple):
    """An SVG path, for a stroke one wide, in a square `size` wide."""

    size: int
    path: str


def drawing(text: str) -> Drawing:
    """The QR code of a text, its quiet zone included."""
    rows = [list(row) for row in _code(text).matrix_iter(border=QUIET_ZONE)]
    return Drawing(len(rows), "".join(_strokes(row, y) for y, row in enumerate(rows)))


def _strokes(row: list[int], y: int) -> str:
    """A stroke for each run of dark modules."""
    strokes, x = "", 0
    for dark, run in groupby(row):
        length = len(list(run))
        strokes += f"M{x} {y}.5h{length}" if dark else ""
        x += length
    return strokes


def blocks(text: str) -> str:
    """The QR code of a text in half blocks, dark on light whatever the terminal's colours (ECMA-48, 8.3.117)."""
    out = io.StringIO()
    _code(text).terminal(out, border=QUIET_ZONE // 2, compact=True)
    return "\n".join(f"\x1b[97;40m{line}\x1b[0m" for line in out.getvalue().rstrip("\n").split("\n"))


def _code(text: str) -> segno.QRCode:
    return segno.make(text, error="m", micro=False)
