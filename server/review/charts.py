"""The charts of a run as SVG, for a page that has no script.

The stringline chart has time across and the gates down at their distance along the film, a line for each mark
(E.-J. Marey, La méthode graphique, 1885): planned thin, observed solid, expected broken. Styles are classes, which
`CHART_STYLE` gives; colours are Okabe and Ito's.
"""

import math
from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby, pairwise
from typing import Final, NamedTuple

from server.review.passes import Pass
from server.review.reading import Reading
from server.timeline.estimate import US_PER_S
from server.timeline.naming import house_of, link_of
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

CHART_STYLE: Final = """
svg { width: 100%; height: auto; }
svg text { font: 11px sans-serif; fill: #333; }
.frame { fill: none; stroke: #999; stroke-width: 1; }
.tick { stroke: #ddd; stroke-width: 1; }
.gate { stroke: #bbb; stroke-width: 1; }
.planned { fill: none; stroke: #999; stroke-width: 0.6; }
.observed { fill: none; stroke: #0072B2; stroke-width: 1.6; }
.seen { fill: #0072B2; }
.odd { fill: none; stroke: #D55E00; stroke-width: 1.4; }
.expected { fill: none; stroke: #555; stroke-width: 1; stroke-dasharray: 4 3; }
.band { fill: #56B4E9; fill-opacity: 0.3; stroke: none; }
.slack { fill: none; stroke: #0072B2; stroke-width: 1.4; }
.reserve { stroke: #D55E00; stroke-width: 1; stroke-dasharray: 6 3; }
.rest { stroke: #bbb; stroke-width: 1; }
"""

WIDTH: Final = 960.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 104.0, 12.0, 8.0, 24.0
_ROW: Final = 26.0
_PANEL: Final = 78.0
_POINTS: Final = 400
_NAME_LENGTH: Final = 16  # chosen: as many letters as there is room for, left of a chart
# chosen: a chart has between four and ten of them
_TICKS_S: Final = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
_MOST_TICKS: Final = 10


class Scale(NamedTuple):
    """From values to where they are drawn."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Where a value is drawn, to a tenth of a unit."""
        part = (value - self.low) / (self.high - self.low) if self.high > self.low else 0.5
        return round(self.start + part * (self.end - self.start), 1)


def stringline_svg(reading: Reading) -> str:
    """Every mark through every gate; empty for a run without length."""
    plan = reading.plan
    height = _TOP + _BOTTOM + _ROW * max(len(plan.stations), 3)
    x = _time_scale(reading)
    y = Scale(0.0, max(plan.ahead_s[-1], 1.0), _TOP + 8.0, height - _BOTTOM - 8.0)
    rows = [y(ahead_s) for ahead_s in plan.ahead_s]
    frame = f'<clipPath id="stringline-frame"><rect {_frame(height)}/></clipPath>'
    parts = [frame, *_time_axis(plan, x, height), *_gates(plan, rows)]
    by_mark: dict[str, list[Pass]] = {}
    for one in reading.passes:
        by_mark.setdefault(one.mark, []).append(one)
    lines = "".join(line for passes in by_mark.values() for line in _mark_lines(passes, rows, x))
    parts.append(f'<g clip-path="url(#stringline-frame)">{lines}</g>')
    return _svg(height, "Stringline chart: every mark through every gate, planned, expected and observed", parts)


def _mark_lines(passes: Sequence[Pass], rows: Sequence[float], x: Scale) -> Iterator[str]:
    yield _line("planned", [(x(one.planned_us), row) for one, row in zip(passes, rows, strict=True)])
    yield from _expected_lines(passes, rows, x)
    seen = [
        (x(one.observed_us), row) for one, row in zip(passes, rows, strict=True) if one.observed_us and one.believed
    ]
    yield _line("observed", seen)
    yield from (f'<circle class="seen" cx="{at}" cy="{row}" r="2"/>' for at, row in seen)
    for one, row in zip(passes, rows, strict=True):
        if one.observed_us is not None and not one.believed:
            yield f'<circle class="odd" cx="{x(one.observed_us)}" cy="{row}" r="3"/>'


def _expected_lines(passes: Sequence[Pass], rows: Sequence[float], x: Scale) -> Iterator[str]:
    """Between gates of which at least one was not seen: from where the mark was seen or expected to where it was."""
    for k, pair in enumerate(pairwise(passes)):
        first, second = _best(pair[0]), _best(pair[1])
        if first is None or second is None or all(one.believed for one in pair):
            continue
        if max(first, second) <= x.high:  # what would have come after the end never came
            yield _line("expected", [(x(first), rows[k]), (x(second), rows[k + 1])])


def _best(one: Pass) -> int | None:
    return one.observed_us if one.believed else one.expected_us


def _gates(plan: Plan, rows: Sequence[float]) -> Iterator[str]:
    for k, row in enumerate(rows):
        yield f'<line class="gate" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" y1="{row}" y2="{row}"/>'
        yield _label(house_of(plan, k), row)


def _label(name: str, row: float) -> str:
    """A name left of the chart, shortened to the room there is; whoever points at it reads all of it."""
    shown = name if len(name) <= _NAME_LENGTH else f"{name[: _NAME_LENGTH - 1]}…"
    text = f'<text x="{_LEFT - 6}" y="{row + 4}" text-anchor="end">{escape(shown)}'
    return f"{text}<title>{escape(name)}</title></text>" if shown != name else f"{text}</text>"


def slack_svg(reading: Reading) -> str:
    """The slack of every link over time, one under another, with its band of one standard deviation and its reserve."""
    plan = reading.plan
    grid = reading.grid_us(_POINTS)
    slack, sd = reading.walk.slack(grid)
    height = _TOP + _BOTTOM + _PANEL * max(len(plan.links), 1)
    x = _time_scale(reading)
    parts = list(_time_axis(plan, x, height))
    for i, link in enumerate(plan.links):
        pieces = _pieces(list(zip(grid, slack[:, i].tolist(), sd[:, i].tolist(), strict=True)))
        most = max([link.reserve_s, *(abs(s) + e for piece in pieces for _, s, e in piece), 0.1]) * 1.08
        top = _TOP + _PANEL * i
        y = Scale(-most, most, top + _PANEL - 4.0, top + 4.0)
        parts += _levels(link_of(plan, i), link.reserve_s, y)
        for piece in pieces:
            parts.append(_band([(x(at), y(s + e), y(s - e)) for at, s, e in piece]))
            parts.append(_line("slack", [(x(at), y(s)) for at, s, _ in piece]))
    return _svg(height, "Slack of every link over time, with its uncertainty and its reserve", parts)


def _pieces(points: Sequence[tuple[int, float, float]]) -> list[list[tuple[int, float, float]]]:
    """The stretches in which a link has slack: a line ends where its film has a free end."""
    groups = groupby(points, key=lambda point: math.isnan(point[1]))
    return [list(piece) for free, piece in groups if not free]


def _levels(link: str, reserve_s: float, y: Scale) -> Iterator[str]:
    for level, value in (("rest", 0.0), ("reserve", reserve_s), ("reserve", -reserve_s)):
        yield f'<line class="{level}" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" y1="{y(value)}" y2="{y(value)}"/>'
        yield f'<text x="{_LEFT - 6}" y="{y(value) + 4}" text-anchor="end">{value:+.1f} s</text>' if value else ""
    yield _label(link, y(0.0))


def _time_scale(reading: Reading) -> Scale:
    span = reading.walk.span
    return Scale(span.from_us, span.to_us, _LEFT, WIDTH - _RIGHT)


def _time_axis(plan: Plan, x: Scale, height: float) -> Iterator[str]:
    """Whole minutes or hours of the house's clock."""
    long_s = (x.high - x.low) / US_PER_S
    step_s = next((step for step in _TICKS_S if long_s / step <= _MOST_TICKS), _TICKS_S[-1])
    zero_s = house_clock(plan, 0.0)
    past_s = zero_s.hour * 3600 + zero_s.minute * 60 + zero_s.second
    first = math.ceil((x.low / US_PER_S + past_s) / step_s)
    for number in range(first, first + _MOST_TICKS + 2):
        at_s = number * step_s - past_s
        if at_s * US_PER_S > x.high:
            break
        at = x(at_s * US_PER_S)
        yield f'<line class="tick" x1="{at}" x2="{at}" y1="{_TOP}" y2="{height - _BOTTOM}"/>'
        yield f'<text x="{at}" y="{height - 8}" text-anchor="middle">{house_clock(plan, at_s):%H:%M}</text>'


def _line(style: str, points: Sequence[tuple[float, float]]) -> str:
    if len(points) < 2:
        return ""
    return f'<polyline class="{style}" points="{" ".join(f"{at},{row}" for at, row in points)}"/>'


def _band(points: Sequence[tuple[float, float, float]]) -> str:
    if len(points) < 2:
        return ""
    there = [f"{at},{high}" for at, high, _ in points]
    back = [f"{at},{low}" for at, _, low in reversed(points)]
    return f'<polygon class="band" points="{" ".join(there + back)}"/>'


def _svg(height: float, title: str, parts: Sequence[str]) -> str:
    frame = f'<rect class="frame" {_frame(height)}/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" role="img">'
        f"<title>{escape(title)}</title>{frame}{''.join(parts)}</svg>"
    )


def _frame(height: float) -> str:
    return f'x="{_LEFT}" y="{_TOP}" width="{WIDTH - _LEFT - _RIGHT}" height="{height - _TOP - _BOTTOM}"'
