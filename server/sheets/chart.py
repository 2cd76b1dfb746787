"""The sheet of the stringline chart, with its table: every mark at every house."""

from collections.abc import Iterator, Sequence
from typing import Final

from server.sheets.markup import Column, Html, clock, element, joined, row, section, table
from server.sheets.page import heading
from server.sheets.show import Show
from server.sheets.stringline import Line, lines_of, stringline_svg
from server.sheets.times import clocks_s, second_down, second_up

TITLE: Final = "Chart"

_AT_ONCE: Final = 6  # chosen: as many marks stand beside each other on the narrower of both papers
_HOUSE_PERCENT: Final = 22.0


def chart_body(show: Show) -> Html:
    """Return the body of the chart's sheet."""
    lines = lines_of(show.plan)
    groups = [lines[start : start + _AT_ONCE] for start in range(0, len(lines), _AT_ONCE)]
    tables = (_table(show, group, _marks_heading(group)) for group in groups)
    return joined([heading(show, TITLE), element("figure", stringline_svg(show)), _windows(show), *tables])


def _marks_heading(group: Sequence[Line]) -> str:
    one, last = group[0].number, group[-1].number
    return f"Mark {one} at every house" if one == last else f"Marks {one} to {last} at every house"


def _table(show: Show, group: Sequence[Line], title: str) -> Html:
    columns = (
        Column("House", _HOUSE_PERCENT),
        *(Column(f"{line.number} {line.title}", (100.0 - _HOUSE_PERCENT) / _AT_ONCE, "n") for line in group),
    )
    rows = (
        row(columns, (times.house, *_cells(show, times.passes, group)), header=0) for times in show.schedule.stations
    )
    return section(title, table(columns, rows, style="small"))


def _cells(show: Show, passes: dict[str, float], group: Sequence[Line]) -> Iterator[Html]:
    return map(clock, clocks_s(show.plan, (_second(passes, line.marks[0].id) for line in group)))


def _second(passes: dict[str, float], mark: str) -> int:
    """An end is told late, and everything else early, as on the other sheets."""
    return second_up(passes[mark]) if passes[mark] >= passes["end"] else second_down(passes[mark])


def _windows(show: Show) -> Html:
    columns = (
        Column("House", _HOUSE_PERCENT),
        *(Column(name, 26, "n") for name in ("Strike from", "until", "Film distance, ft")),
    )
    film, plan = show.plan.film, show.plan
    rows = []
    for times, ahead_s in zip(show.schedule.stations, plan.ahead_s, strict=True):
        window = (second_up(times.strike_opens_s), second_down(times.strike_closes_s))
        cells = (times.house, *map(clock, clocks_s(plan, window)), f"{film.tape_ft_from_s(ahead_s):.0f}")
        rows.append(row(columns, cells, header=0))
    return section("Strike windows", table(columns, rows, style="small"))
