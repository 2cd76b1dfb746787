"""Pieces of a page: every text in them is escaped, so that nothing of a plan is taken for markup."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import NamedTuple


class Html(str):
    """Text that is markup already, and is put into a page as it is."""

    __slots__ = ()


class Column(NamedTuple):
    """A column of a table: its heading, its width in per cent, and the class of its cells."""

    heading: str
    percent: float
    style: str = ""


def put(value: str) -> str:
    """Return a text escaped, and markup as it is."""
    return value if isinstance(value, Html) else escape(value)


def element(name: str, *inner: str, style: str = "") -> Html:
    """Return an element of these texts and this markup, of a class where one is given."""
    attribute = f' class="{escape(style)}"' if style else ""
    return Html(f"<{name}{attribute}>{''.join(map(put, inner))}</{name}>")


def joined(parts: Iterable[str]) -> Html:
    """Return texts and markup one after another."""
    return Html("".join(map(put, parts)))


def listed(items: Iterable[str], style: str = "") -> Html:
    """Return a list, or nothing where it has no item."""
    inner = [element("li", item) for item in items]
    return element("ul", *inner, style=style) if inner else Html()


def section(heading: str, *inner: str, style: str = "") -> Html:
    """Return a part of a page under its heading; nothing where nothing is in it."""
    return element("section", element("h2", heading), *inner, style=style) if any(inner) else Html()


def box() -> Html:
    """Return a box to tick off by pen."""
    return Html('<span class="box"></span>')


def clock(said: str) -> Html:
    """Return a clock as it was said, its day small under it where it has one."""
    at, _, day = said.partition(" on ")
    return joined([at, element("span", day, style="day")]) if day else joined([at])


def table(columns: Sequence[Column], rows: Iterable[str], *, style: str = "") -> Html:
    """Return a table whose heading is repeated on every page."""
    widths = "".join(f'<col style="width: {column.percent:g}%">' for column in columns)
    heads = [Html(f'<th scope="col" class="{escape(column.style)}">{put(column.heading)}</th>') for column in columns]
    head = element("thead", element("tr", *heads))
    return element("table", Html(f"<colgroup>{widths}</colgroup>"), head, element("tbody", *rows), style=style)


def row(columns: Sequence[Column], cells: Sequence[str], *, style: str = "", header: int | None = None) -> Html:
    """Return a row of a table; the cell of the column `header` is what the row is about, where one is."""
    inner = [
        _cell(column, cell, header=k == header) for k, (column, cell) in enumerate(zip(columns, cells, strict=True))
    ]
    return element("tr", *inner, style=style)


def _cell(column: Column, cell: str, *, header: bool) -> Html:
    if header:
        return Html(f'<th scope="row" class="{escape(column.style)}">{put(cell)}</th>')
    return element("td", cell, style=column.style)


def across(columns: Sequence[Column], *inner: str, style: str) -> Html:
    """Return a row that is one cell across the whole table."""
    return Html(f'<tr class="{escape(style)}"><td colspan="{len(columns)}">{"".join(map(put, inner))}</td></tr>')
