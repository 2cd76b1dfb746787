"""The benchmark as pictures: how wide the intervals are, and how early a fault is told of. Plain SVG, no library."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from tests.bench.truth.measures import SD_90, Interval, Result
from tests.bench.truth.summary import possible

_WIDTH, _HEIGHT, _EDGE = 420.0, 320.0, 48.0
# Okabe and Ito, colour universal design.
_COLOURS = {"contacts": "#0072B2", "taps": "#D55E00", "hands": "#009E73"}

_Point = tuple[float, float]


def plots(results: Sequence[Result], folder: Path) -> list[Path]:
    """Write one picture of each kind into the folder, and return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    kinds: dict[str, Callable[[Result], list[Interval]]] = {
        "slack": lambda r: r.slack,
        "passes": lambda r: r.passes,
        "reserve": lambda r: r.gone,
    }
    pictures = {name: _coverage(f"Intervals of {name}", results, of) for name, of in kinds.items()}
    pictures["lead"] = _lead(results)
    written = []
    for name, text in pictures.items():
        path = folder / f"{name}.svg"
        path.write_text(text, encoding="utf-8")
        written.append(path)
    return written


def _coverage(title: str, results: Sequence[Result], of: Callable[[Result], list[Interval]]) -> str:
    """Share of truths held, by the share that was promised: on the diagonal where the uncertainty is right."""
    lines = {}
    for wired in _COLOURS:
        off = np.array([abs(i.off) * SD_90 for r in results if r.show.wired == wired for i in of(r)])
        if len(off):
            promised = [_two_sided(z) for z in np.linspace(0.05, 3.0, 60)]
            held = [float(np.mean(off <= z)) for z in np.linspace(0.05, 3.0, 60)]
            lines[wired] = list(zip(promised, held, strict=True))
    return _drawn(title, "promised", "held", lines, {}, most=(1.0, 1.0))


def _two_sided(z: float) -> float:
    return float(np.trapezoid(np.exp(-0.5 * np.linspace(-z, z, 401) ** 2), dx=2.0 * z / 400) / np.sqrt(2.0 * np.pi))


def _lead(results: Sequence[Result]) -> str:
    """Minutes from the telling to the end of the reserve, beside what was possible; not found is on the axis."""
    points = {}
    for wired in _COLOURS:
        faults = possible(r for r in results if r.show.wired == wired)
        points[wired] = [
            (
                (found.gone_s - (found.best_s or 0.0)) / 60.0,
                0.0 if found.told_s is None else (found.gone_s - found.told_s) / 60.0,
            )
            for found in faults
        ]
    most = max((max(point) for group in points.values() for point in group), default=1.0)
    return _drawn("Warning before a reserve is spent, minutes", "the best", "told", {}, points, most=(most, most))


def _drawn(
    title: str,
    across: str,
    up: str,
    lines: dict[str, list[_Point]],
    points: dict[str, list[_Point]],
    *,
    most: _Point,
) -> str:
    def at(point: _Point) -> _Point:
        x = _EDGE + point[0] / most[0] * (_WIDTH - 2.0 * _EDGE)
        return x, _HEIGHT - _EDGE - point[1] / most[1] * (_HEIGHT - 2.0 * _EDGE)

    (left, low), (right, high) = at((0.0, 0.0)), at(most)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:.0f} {_HEIGHT:.0f}" font-family="sans-serif">',
        f'<rect width="{_WIDTH:.0f}" height="{_HEIGHT:.0f}" fill="#ffffff"/>',
        f'<text x="{left}" y="24" font-size="14">{title}</text>',
        f'<path d="M{left} {high}V{low}H{right}M{left} {low}L{right} {high}" fill="none" stroke="#767676"/>',
        f'<text x="{right}" y="{low + 32}" font-size="12" text-anchor="end">{across}, to {most[0]:.3g}</text>',
        f'<text x="{left - 8}" y="{high}" font-size="12" text-anchor="end">{up}</text>',
    ]
    for number, (wired, colour) in enumerate(_COLOURS.items()):
        parts.append(f'<text x="{left + 90 * number}" y="{_HEIGHT - 4}" font-size="12" fill="{colour}">{wired}</text>')
        if wired in lines:
            path = "L".join(f"{x:.1f} {y:.1f}" for x, y in map(at, lines[wired]))
            parts.append(f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="2"/>')
        for x, y in map(at, points.get(wired, [])):
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{colour}" fill-opacity="0.6"/>')
    return "\n".join([*parts, "</svg>", ""])
