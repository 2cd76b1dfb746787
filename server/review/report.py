"""The report of a run: one HTML page that carries all it needs, to be read, sent and printed."""

from collections.abc import Iterator
from html import escape
from typing import Final

from server.review.charts import CHART_STYLE, slack_svg, stringline_svg
from server.review.reading import Reading
from server.review.story import more_in_words, text_of
from server.review.tables import Cell, Table, Unit
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

# Every event is in the recording, the slack in its chart and in the table of links, and both are in the CSV files: on
# paper they are only long.
_LEFT_OUT: Final = frozenset({"events", "slack"})

_STYLE: Final = """
@page {
  size: A4 landscape; margin: 14mm 12mm;
  @bottom-right { content: counter(page) " / " counter(pages); font: 9px sans-serif; }
}
body {
  font: 13px/1.4 sans-serif; color: #222; background: #fff;
  max-width: 75rem; margin: 1.5rem auto; padding: 0 1rem;
}
h1 { font-size: 1.6rem; margin: 0; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 0.4rem; break-after: avoid; }
p.site { margin: 0 0 1rem; color: #555; }
table { border-collapse: collapse; font-size: 0.85rem; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { border-bottom: 1px solid #ddd; padding: 0.15rem 0.6rem 0.15rem 0; text-align: left; vertical-align: top; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; }
td.act { font-weight: bold; }
ol.story { list-style: none; margin: 0 0 1rem; padding: 0; font-size: 1.15rem; max-width: 60rem; }
ol.story li { border-left: 0.4rem solid #ddd; padding: 0.15rem 0 0.15rem 0.7rem; margin: 0.3rem 0; }
ol.story li.act { border-left-color: #D55E00; }
ol.story li.watch { border-left: 0.4rem double #E69F00; }
figure { margin: 0.5rem 0; }
figcaption, p.none { color: #555; font-size: 0.85rem; }
@media print { body { margin: 0; max-width: none; padding: 0; font-size: 10px; } }
"""

_KEY: Final = (
    "Thin grey: planned. Solid blue: observed. Broken: expected where it was not seen. A ring: seen, and did not fit."
)
_SLACK_KEY: Final = (
    "Over (+) or under (-) what was threaded, with one standard deviation; broken lines: the reserve, either way. "
    "A line ends where the film's end leaves the gate above."
)
_SECONDS_DIGITS: Final = 2


def report_html(reading: Reading) -> str:
    """The whole report: story, charts, tables and notes. It has no script and asks for nothing from elsewhere."""
    plan = reading.plan
    title = f"{plan.title}, {house_clock(plan, 0.0):%Y-%m-%d}"
    known = "as it is known now" if reading.clock == "now" else "as it was known then"
    body = "".join(_sections(reading))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"content-security-policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}{CHART_STYLE}</style></head>"
        f'<body><h1>{escape(title)}</h1><p class="site">{escape(_where(plan))}The run {known}; all times are'
        f" the house's ({escape(plan.timezone)}).</p>{body}</body></html>\n"
    )


def _where(plan: Plan) -> str:
    return f"{plan.site}. " if plan.site else ""


def _sections(reading: Reading) -> Iterator[str]:
    tables = {one.id: one for one in reading.tables}
    yield _story(reading)
    yield f"<h2>Stringline</h2><figure>{stringline_svg(reading)}<figcaption>{_KEY}</figcaption></figure>"
    yield _section(tables["summary"], reading.plan)
    if reading.plan.links:
        yield f"<h2>Slack</h2><figure>{slack_svg(reading)}<figcaption>{_SLACK_KEY}</figcaption></figure>"
    for one in reading.tables[1:]:
        if one.id not in _LEFT_OUT:
            yield _section(one, reading.plan)


def _story(reading: Reading) -> str:
    """What happened, in order of time."""
    sentences = [(one.level or "none", text_of(one, reading.plan)) for one in reading.story.sentences]
    told = "".join(f'<li class="{level}">{escape(text)}</li>' for level, text in sentences)
    more = more_in_words(reading.story)
    left = f'<p class="none">{escape(more)}</p>' if more else ""
    return f'<h2>What happened</h2><ol class="story">{told}</ol>{left}'


def _section(given: Table, plan: Plan) -> str:
    heading = f"<h2>{escape(given.title)}</h2>"
    if not given.rows:
        return f'{heading}<p class="none">None.</p>'
    head = "".join(f"<th{_class(column.unit)}>{escape(column.title)}</th>" for column in given.columns)
    rows = "".join(f"<tr>{''.join(_cells(given, row, plan))}</tr>" for row in given.rows)
    return f"{heading}<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cells(given: Table, row: tuple[Cell, ...], plan: Plan) -> Iterator[str]:
    for column, cell in zip(given.columns, row, strict=True):
        emphasis = ' class="act"' if column.key == "level" and cell == "act" else _class(column.unit)
        yield f"<td{emphasis}>{escape(cell_text(cell, column.unit, plan))}</td>"


def _class(unit: Unit) -> str:
    return "" if unit == "text" else ' class="n"'


def cell_text(cell: Cell, unit: Unit, plan: Plan) -> str:
    """A cell as people read it: a time on the house's clock to a tenth, seconds and figures with their unit."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    match unit:
        case "clock":
            moment = house_clock(plan, round(cell, 1))
            return f"{moment:%H:%M:%S}.{moment.microsecond // 100_000}"
        case "s":
            return f"{_figure(cell, _SECONDS_DIGITS)} s"
        case "ppm":
            return f"{_figure(cell, 0)} ppm"
        case "percent":
            return f"{_figure(cell, 0)} %"
        case _:
            return f"{cell:g}"


def _figure(value: float, digits: int) -> str:
    """A number with that many digits; what is rounded to nothing has no sign."""
    return f"{round(value, digits) + 0.0:.{digits}f}"
