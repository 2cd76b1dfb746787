"""QR codes as a drawing and as text, against the library's own picture of them."""

import io
import re

import segno

from server.access.qr import blocks, drawing

TEXT = "https://booth.local:8440/pair#ABCD-EFGH"


def dark_of(path: str) -> set[tuple[int, int]]:
    """The squares that horizontal strokes one wide, half a square down, cover."""
    found = re.findall(r"M(\d+) (\d+)\.5h(\d+)", path)
    assert "".join(f"M{x} {y}.5h{length}" for x, y, length in found) == path
    return {(int(x) + step, int(y)) for x, y, length in found for step in range(int(length))}


def dark_in_picture() -> set[tuple[int, int]]:
    """The same from the picture that the library writes: one letter a pixel, dark ones 1 (Netpbm, plain PBM)."""
    out = io.BytesIO()
    segno.make(TEXT, error="m", micro=False).save(out, kind="pbm", plain=True, border=4)
    lines = [line for line in out.getvalue().decode().splitlines() if not line.startswith("#")]
    width = int(lines[1].split()[0])
    bits = "".join(lines[2:]).replace(" ", "")
    return {(at % width, at // width) for at, bit in enumerate(bits) if bit == "1"}


def test_the_drawing_is_the_code() -> None:
    """Square for square, with four white ones around it."""
    made = drawing(TEXT)
    dark = dark_of(made.path)
    assert dark == dark_in_picture()
    assert {min(x for x, _ in dark), min(y for _, y in dark)} == {4}
    assert max(x for x, _ in dark) == made.size - 5


def test_a_terminal_shows_the_same_code() -> None:
    """Two rows a line, dark on light whatever the terminal's colours."""
    rows: list[list[bool]] = []
    for line in blocks(TEXT).splitlines():
        inner = re.fullmatch("\x1b\\[97;40m(.*)\x1b\\[0m", line)
        assert inner
        rows += [
            [letter not in "\u2588\u2580" for letter in inner[1]],
            [letter not in "\u2588\u2584" for letter in inner[1]],
        ]
    dark = {(x + 2, y + 2) for y, row in enumerate(rows) for x, is_dark in enumerate(row) if is_dark}
    size = len(rows[0])
    assert {(x, y) for x, y in dark if y < size + 2} == dark_in_picture()
