"""What a search for Modbus units tells in the terminal, from plain values."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from rich.console import Console, RenderableType
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

HEADINGS = ("unit", "answers at", "discrete inputs", "coils")


def unit_table(rows: Sequence[tuple[str, str, str, str]]) -> RenderableType:
    """Every unit that answered, at which setting, and which addresses it has."""
    table = Table(box=None, header_style="bold", padding=(0, 2, 0, 0))
    for heading in HEADINGS:
        table.add_column(heading)
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def told_before(address: str, settings: Sequence[str], units: Sequence[int], longest_s: float) -> str:
    """What is going to be asked, what that does, and how long it may take."""
    which = f"unit {units[0]}" if len(units) == 1 else f"{len(units)} units from {units[0]} to {units[-1]}"
    ways = settings[0] if len(settings) == 1 else f"{len(settings)} settings"
    return (
        f"{which} at {address}, {ways}: {_length(longest_s)} at most. Nothing is written.\n"
        "A line that a server polls is disturbed: stop that first. Ctrl-C ends the search, and what was found is shown."
    )


def told_after(
    found: int, noisy: Sequence[str], untried: Sequence[tuple[str, Sequence[str]]], settings: int
) -> Iterator[str]:
    """What is to be said beside the table, a line each."""
    for why, ways in untried:
        yield f"Not tried: {'any setting' if len(ways) == settings else ', '.join(ways)}. {_sentence(why)}"
    if any(len(ways) == settings for _, ways in untried):
        return
    if noisy:
        yield f"Something came that was no answer at {', '.join(noisy)}. Two units may have one number."
    if not found:
        yield "No unit answered. See the unit's number and speed, its supply, and whether A and B are changed over."
        yield "A few kinds answer only where they are asked first: where the number is known, --units with it alone."


@contextmanager
def search_shown(console: Console, total: int) -> Iterator[Callable[[int, str], None]]:
    """Shows how far a search is, in a terminal: how many of `total` units were asked, and what is asked now."""
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=total)

        def show(asked: int, now: str) -> None:
            progress.update(task, completed=asked, description=now)

        yield show


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].removesuffix(".") + "."


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100.0 else f"{seconds / 60.0:.0f} min"
