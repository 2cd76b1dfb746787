"""A table as every reader gets it: a page, a printed report and a file have the same cells."""

import csv
import io
import zipfile
from collections.abc import Iterable
from typing import Literal, NamedTuple

from server.timeline.estimate import US_PER_S

Unit = Literal["text", "clock", "s", "ppm", "percent", "count", "number"]
"""`clock` is seconds after the plan's zero, to be shown as the house's time; `s` is a length of time or of film."""

Cell = str | float | int | None


class Column(NamedTuple):
    """One column: `key` is its name in files."""

    key: str
    title: str
    unit: Unit = "text"


class Table(NamedTuple):
    """One table; rows have a cell for each column, None where there is nothing to say."""

    id: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]


def table(id_: str, title: str, columns: Iterable[Column], rows: Iterable[Iterable[Cell]]) -> Table:
    """Make a table of any rows."""
    return Table(id_, title, tuple(columns), tuple(tuple(row) for row in rows))


def seconds(us: int | None) -> float | None:
    """Microseconds as the seconds of a cell."""
    return None if us is None else us / US_PER_S


def rounded(value: float | None, digits: int = 4) -> float | None:
    """An estimate as a cell: to a tenth of a millisecond, or as many digits as asked; a zero has no sign."""
    return None if value is None or value != value else round(value, digits) + 0.0  # noqa: PLR0124 - NaN is no figure


def csv_from_table(given: Table) -> str:
    """The table as CSV (RFC 4180), its first line the keys of the columns; numbers as they are, None as nothing.

    A text that a spreadsheet would take for a formula has an apostrophe put before it.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.key for column in given.columns])
    writer.writerows([[_csv_cell(cell) for cell in row] for row in given.rows])
    return out.getvalue()


def zip_from_tables(tables: Iterable[Table]) -> bytes:
    """Every table as `ID.csv` in one ZIP file; the same tables give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as files:
        for one in tables:
            files.writestr(zipfile.ZipInfo(f"{one.id}.csv"), csv_from_table(one), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _csv_cell(cell: Cell) -> Cell:
    # A text such as "=1+1" or "-2+3": OWASP, "CSV Injection" (from memory).
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in {"=", "+", "-", "@", "\t", "\r"} else cell
