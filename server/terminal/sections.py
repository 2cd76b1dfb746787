"""Sentences and tables, for the terminal."""

from collections.abc import Sequence
from typing import Protocol

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text


class Section(Protocol):
    """One table: its title, its columns, its rows, and what to say where it has none."""

    @property
    def title(self) -> str: ...
    @property
    def columns(self) -> Sequence[str]: ...
    @property
    def rows(self) -> Sequence[Sequence[str]]: ...
    @property
    def empty(self) -> str: ...


def print_sections(title: str, sentences: Sequence[str], sections: Sequence[Section], console: Console) -> None:
    """Print a title, sentences and then tables."""
    console.print()
    console.print(Text(title, style="bold"))
    for sentence in sentences:
        console.print(Text(f"  {sentence}"), soft_wrap=True)
    for section in sections:
        console.print()
        console.print(_table(section) if section.rows else Text(f"{section.title}: {section.empty}"))


def _table(section: Section) -> Table:
    table = Table(
        *section.columns,
        title=section.title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
    )
    for row in section.rows:
        table.add_row(*map(Text, row))
    return table
