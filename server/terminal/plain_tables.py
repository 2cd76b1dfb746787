"""Tables and lists that are read on 80 columns, without colour, and cut nothing short."""

from collections.abc import Iterable

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

# Chosen: with these the widest table stays within 80 columns.
NAME_WIDTH = 12
TITLE_WIDTH = 22
NUMBER_WIDTH = 12


def table_of(title: str, names: Iterable[str], numbers: Iterable[str], widths: dict[str, int] | None = None) -> Table:
    """Return a table without rows: names to the left, numbers to the right; `widths` of columns that are wider."""
    table = Table(title=Text(title), title_justify="left", box=None, padding=(0, 1, 0, 0), pad_edge=False)
    wider = widths or {}
    for name in names:
        table.add_column(Text(name), overflow="fold", max_width=wider.get(name, NAME_WIDTH))
    for number in numbers:
        table.add_column(Text(number), justify="right", overflow="fold", max_width=NUMBER_WIDTH)
    return table


def clock_cell(plan: Plan, seconds: float) -> str:
    """Return the house's clock to the second, under its date where that is not the day of `motors_at`."""
    moment, first = house_clock(plan, round(seconds)), house_clock(plan, 0.0)
    return f"{moment:%H:%M:%S}" if moment.date() == first.date() else f"{moment:%Y-%m-%d}\n{moment:%H:%M:%S}"


def row_of(cells: Iterable[str]) -> list[Text]:
    """Return the cells of a row as they are: nothing in them is markup."""
    return [Text(cell) for cell in cells]


def print_tables(console: Console, *tables: Table) -> None:
    """Print tables, each after an empty line."""
    for table in tables:
        console.print("")
        console.print(table)


def print_list(console: Console, heading: str, lines: Iterable[str]) -> None:
    """Print lines under a heading, each whole and after a dash."""
    table = Table.grid(padding=(0, 1, 0, 0))
    for line in lines:
        table.add_row(*row_of(["-", line]))
    console.print("")
    console.print(Text(heading))
    console.print(table)
