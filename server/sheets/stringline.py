"""The stringline chart of a plan as an SVG file of its own.

Time across, stations down at their film distance, a line for each mark of the print (E.-J. Marey, La méthode graphique,
1885), and the strike windows as bars. Colours are Okabe and Ito's; nothing is told by colour alone.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from html import escape
from itertools import groupby
from typing import Final, NamedTuple

from server.sheets.markup import Html
from server.sheets.page import DRAWN_BY
from server.sheets.show import Show
from server.sheets.times import clock_s, day_of, day_text, second_down, short_day
from server.timeline.naming import house_of
from server.timeline.plan import Mark, Plan
from server.timeline.schedule import house_clock

WIDTH: Final = 1100.0
_LEFT, _RIGHT, _TOP = 176.0, 16.0, 70.0
_LINE: Final = 17.0  # of a line of text
_ROWS: Final = (340.0, 16.0)  # chosen: the least height of the chain, and of it for each station
_NAME_LENGTH: Final = 20  # chosen: as many letters as there is room for, left of the chart
_TITLE_LENGTH: Final = 60  # chosen: as many letters as there is room for in half of the key
_LEVELS: Final = 3  # chosen: of numbers above the chart, where marks are near each other
_NUMBER: Final = 20.0  # the room of a number
# chosen: a chart has between five and twelve of them
_TICKS_S: Final = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
_MOST_TICKS: Final = 12
_BOLD: Final = frozenset({"head", "end", "tail_end"})

_STYLE: Final = (
    "text{font:13px Helvetica,Arial,'Liberation Sans',sans-serif;fill:#000}.title{font-size:18px;font-weight:bold}"
    ".frame{fill:none;stroke:#000}.tick{stroke:#d0d0d0}.gate{stroke:#999}.join{stroke:#999;fill:none}"
    ".mark{fill:none;stroke:#0072B2;stroke-width:1.1}.bold{stroke:#000;stroke-width:2.4}"
    ".other{stroke-dasharray:5 3}.pass{fill:#0072B2}.strike{fill:#E69F00;stroke:#000;stroke-width:.8}"
)


class Line(NamedTuple):
    """One point of the print on its way: every mark that is at it; `number` from 1, in film order."""

    number: int
    marks: tuple[Mark, ...]

    @property
    def title(self) -> str:
        """What it is called; head and end before the segment that begins there."""
        return ": ".join(mark.title for mark in sorted(self.marks, key=lambda mark: mark.id not in _BOLD))


class _Frame(NamedTuple):
    """From seconds after `motors_at` and film distance to where they are drawn."""

    from_s: float
    to_s: float
    most_s: float
    height: float

    def x(self, at_s: float) -> float:
        part = (at_s - self.from_s) / (self.to_s - self.from_s)
        return round(_LEFT + part * (WIDTH - _LEFT - _RIGHT), 1)

    def y(self, ahead_s: float) -> float:
        part = ahead_s / self.most_s if self.most_s else 0.5
        return round(_TOP + 14.0 + part * (self.height - 28.0), 1)

    @property
    def bottom(self) -> float:
        return _TOP + self.height


def lines_of(plan: Plan) -> tuple[Line, ...]:
    """Return what the chart has a line for, in film order."""
    points = groupby(plan.marks, key=lambda mark: round(mark.x_s, 6))
    return tuple(Line(number, tuple(marks)) for number, (_, marks) in enumerate(points, 1))


def stringline_svg(show: Show) -> Html:
    """Return the chart as an SVG file that carries its styles, its key and its own white ground."""
    plan, lines = show.plan, lines_of(show.plan)
    frame = _frame(show)
    key_y = frame.bottom + 52.0
    rows = (len(lines) + 1) // 2
    height = key_y + _LINE * (rows + 2)
    title = f"{plan.title}, {day_text(day_of(plan, 0.0))}: stringline chart"
    parts = [
        *_time_axis(plan, frame),
        *_gates(plan, frame),
        *(piece for line in lines for piece in _line(show, line, frame)),
        *_windows(show, frame),
        *_numbers(show, lines, frame),
        *_key(show, lines, key_y),
    ]
    return Html(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" role="img" '
        f'font-family="Helvetica, Arial, sans-serif"><title>{escape(title)}</title>{DRAWN_BY}'
        f"<style>{_STYLE}</style>"
        f'<rect width="{WIDTH:g}" height="{height:g}" fill="#fff"/>'
        f'<text class="title" x="{_LEFT:g}" y="20">{escape(_cut(title, 100))}</text>{"".join(parts)}'
        f'<rect class="frame" x="{_LEFT:g}" y="{_TOP:g}" width="{WIDTH - _LEFT - _RIGHT:g}" '
        f'height="{frame.height:g}"/></svg>'
    )


def _frame(show: Show) -> _Frame:
    stations = show.schedule.stations
    from_s = min(0.0, *(times.strike_opens_s for times in stations))
    to_s = max(times.clear_s for times in stations)
    margin_s = (to_s - from_s) * 0.01
    height = max(_ROWS[0], _ROWS[1] * len(stations))
    return _Frame(from_s - margin_s, to_s + margin_s, show.plan.ahead_s[-1], height)


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else f"{text[: length - 1]}…"


def _time_axis(plan: Plan, frame: _Frame) -> Iterator[str]:
    """Whole minutes or hours of the house's clock; the day under the first of each."""
    long_s = frame.to_s - frame.from_s
    step_s = next((step for step in _TICKS_S if long_s / step <= _MOST_TICKS), _TICKS_S[-1])
    day = None
    for at_s in _ticks(plan, frame, step_s):
        at, moment = frame.x(at_s), house_clock(plan, at_s)
        yield f'<line class="tick" x1="{at}" x2="{at}" y1="{_TOP}" y2="{frame.bottom}"/>'
        yield f'<text x="{at}" y="{frame.bottom + 15}" text-anchor="middle">{moment:%H:%M}</text>'
        if moment.date() != day:
            yield f'<text x="{at}" y="{frame.bottom + 31}" text-anchor="middle">{short_day(moment.date())}</text>'
        day = moment.date()


def _ticks(plan: Plan, frame: _Frame, step_s: int) -> Iterator[int]:
    """Seconds after `motors_at` at which the house's clock is at a whole step."""
    zero = house_clock(plan, 0.0)
    midnight = zero.replace(hour=0, minute=0, second=0, microsecond=0)
    past_s = (zero - midnight) / timedelta(seconds=1)
    at_s = (frame.from_s + past_s) // step_s * step_s - past_s
    while at_s <= frame.to_s:
        if at_s >= frame.from_s:
            yield round(at_s)
        at_s += step_s


def _gates(plan: Plan, frame: _Frame) -> Iterator[str]:
    """A line for each gate, with its house's name, moved aside where others are too near."""
    rows = [frame.y(ahead_s) for ahead_s in plan.ahead_s]
    for k, (row, label) in enumerate(zip(rows, _spread(rows, frame), strict=True)):
        name = house_of(plan, k)
        booth = plan.stations[k].booth
        said = _cut(f"{name}, {booth}" if booth else name, _NAME_LENGTH)
        yield f'<line class="gate" x1="{_LEFT}" x2="{WIDTH - _RIGHT}" y1="{row}" y2="{row}"/>'
        yield f'<polyline class="join" points="{_LEFT - 16},{label} {_LEFT - 4},{row} {_LEFT},{row}"/>'
        yield f'<text x="{_LEFT - 20}" y="{label + 4}" text-anchor="end">{escape(said)}</text>'


def _spread(rows: Sequence[float], frame: _Frame) -> list[float]:
    """Return where names stand: at their rows, or as near as leaves each its line of text."""
    placed: list[float] = []
    for row in rows:
        placed.append(max(row, placed[-1] + 13.0) if placed else row)
    limit = frame.bottom - 4.0
    for k in range(len(placed) - 1, -1, -1):
        placed[k] = min(placed[k], limit)
        limit = placed[k] - 15.0
    return [round(row, 1) for row in placed]


def _line(show: Show, line: Line, frame: _Frame) -> Iterator[str]:
    ids = {mark.id for mark in line.marks}
    points = _points(show, line, frame)
    style = "mark bold" if ids & _BOLD else "mark other" if ids <= _others(show.plan) else "mark"
    yield f'<polyline class="{style}" points="{" ".join(f"{at},{row}" for at, row in points)}"/>'
    yield from (f'<circle class="pass" cx="{at}" cy="{row}" r="1.8"/>' for at, row in points)


def _others(plan: Plan) -> set[str]:
    return {mark.id for mark in plan.planned_marks}


def _points(show: Show, line: Line, frame: _Frame) -> list[tuple[float, float]]:
    mark = line.marks[0].id
    passes = (times.passes[mark] for times in show.schedule.stations)
    return [(frame.x(at_s), frame.y(ahead_s)) for at_s, ahead_s in zip(passes, show.plan.ahead_s, strict=True)]


def _windows(show: Show, frame: _Frame) -> Iterator[str]:
    """When each lamp is to be lit, as a bar on its house's line."""
    for station, times, ahead_s in zip(show.plan.stations, show.schedule.stations, show.plan.ahead_s, strict=True):
        if station.inputs.lamp == "none":
            continue
        opens, closes, row = frame.x(times.strike_opens_s), frame.x(times.strike_closes_s), frame.y(ahead_s)
        yield (
            f'<rect class="strike" x="{opens}" y="{row - 4}" width="{max(closes - opens, 1.0):.1f}" height="8">'
            f"<title>{escape(f'House {station.house}: strike window')}</title></rect>"
        )


def _numbers(show: Show, lines: Sequence[Line], frame: _Frame) -> Iterator[str]:
    """The number of each line above it, on another level where it would touch the one before."""
    taken = [float("-inf")] * _LEVELS
    for line in lines:
        at = _points(show, line, frame)[0][0]
        level = next((k for k in range(_LEVELS) if at - taken[k] >= _NUMBER), taken.index(min(taken)))
        taken[level] = at
        y = _TOP - 5.0 - 14.0 * level
        yield f'<text x="{at}" y="{y}" text-anchor="middle">{line.number}</text>'


def _key(show: Show, lines: Sequence[Line], top: float) -> Iterator[str]:
    """Every line by its number, with when it is at the first gate, in two columns; then what the styles mean."""
    plan, first = show.plan, show.schedule.stations[0]
    rows = (len(lines) + 1) // 2
    for k, line in enumerate(lines):
        x = 16.0 + (WIDTH / 2.0) * (k // rows)
        y = top + _LINE * (k % rows)
        at = clock_s(plan, second_down(first.passes[line.marks[0].id]))
        said = f"{line.number}.  {at}:  {_cut(line.title, _TITLE_LENGTH)}"
        yield f'<text x="{x:g}" y="{y:g}">{escape(said)}</text>'
    y = top + _LINE * (rows + 1)
    means = (
        f"Times in the key: at House {first.house}. Thick: head, end, end of the tail. Broken: other marks. "
        "Bars: strike windows."
    )
    yield f'<text x="16" y="{y:g}">{escape(means)}</text>'
