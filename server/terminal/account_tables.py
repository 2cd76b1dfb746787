"""`festoon debrief`, `learn` and `runs`: their tables in the terminal."""

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console, JustifyMethod
from rich.padding import Padding
from rich.table import Table as Shown
from rich.text import Text

from server.review.lessons import Lessons
from server.review.library import LibraryLine
from server.review.reading import Reading
from server.review.report import cell_text
from server.review.story import more_in_words, text_of
from server.review.tables import Table
from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.naming import place_of
from server.timeline.plan import Plan

# Every event and every pass is in the files that are handed on; here they would hide the rest.
LEFT_OUT = frozenset({"events", "passes", "slack"})


# Chosen: a sentence goes on in the next line after so many letters, and columns stand so far apart.
_TEXT_WIDTH = 34
_APART = 2


def print_sections(reading: Reading, console: Console) -> None:
    """Tell a run: what happened, and then its tables but for the long ones, each as wide as the terminal at most."""
    print_story(reading, console)
    for one in reading.tables:
        if one.id in LEFT_OUT:
            continue
        if not one.rows:
            console.print(f"{one.title}: none\n")
        for number, part in enumerate(_parts(one, reading.plan, console.width)):
            console.print(Text(f"{one.title}, continued" if number else one.title, style="italic"))
            console.print(part)
            console.print()


def print_story(reading: Reading, console: Console) -> None:
    """Tell what happened, a sentence each, and then what was left out."""
    console.print(Text("What happened", style="italic"))
    more = more_in_words(reading.story)
    for line in (*(text_of(one, reading.plan) for one in reading.story.sentences), *([more] if more else [])):
        console.print(Padding(Text(line), (0, 0, 0, 2)))
    console.print()


def _parts(given: Table, plan: Plan, width: int) -> Iterator[Shown]:
    """A table, in as many parts beneath each other as it takes; each begins with the first column."""
    units = [column.unit for column in given.columns]
    rows = [[cell_text(cell, unit, plan) for cell, unit in zip(row, units, strict=True)] for row in given.rows]
    if not rows:
        return
    cells = [max(len(row[at]) for row in rows) for at in range(len(units))]
    words = [max(map(len, column.title.split())) for column in given.columns]
    least = [max(word, min(cell, _TEXT_WIDTH)) for word, cell in zip(words, cells, strict=True)]
    for columns in _columns_of_parts(least, width):
        shown = Shown(box=None, padding=(0, _APART, 0, 0), pad_edge=False)
        left = width - sum(least[at] + _APART for at in columns)
        for at in columns:
            more = max(0, min(cells[at] - least[at], left))
            left -= more
            justify: JustifyMethod = "left" if units[at] == "text" else "right"
            title = Text(given.columns[at].title)
            shown.add_column(title, justify=justify, overflow="fold", width=least[at] + more)
        for row in rows:
            shown.add_row(*(Text(row[at]) for at in columns))
        yield shown


def _columns_of_parts(widths: Sequence[int], width: int) -> Iterator[list[int]]:
    columns, taken = [0], widths[0]
    for at in range(1, len(widths)):
        if len(columns) > 1 and taken + _APART + widths[at] > width:
            yield columns
            columns, taken = [0], widths[0]
        columns.append(at)
        taken += _APART + widths[at]
    yield columns


def print_lessons(learned: Lessons, console: Console) -> None:
    """Tell what runs say of each path and rate, and what the corrected plan would say otherwise."""
    plan = learned.plan
    paths = Shown("Link", "Planned", "Learned", "", title="Paths", title_justify="left")
    for one in learned.paths:
        old = f"{one.old:.2f} ± {one.old_sd:.2f} {one.unit}"
        new = f"{one.new:.2f} ± {one.new_sd:.2f} {one.unit}"
        paths.add_row(Text(place_of(plan, one.link)), old, new, "" if one.changed else "left as it is")
    console.print(paths)
    rates = Shown("Run", "House", "Rate", "Of it its own", title="Rates", title_justify="left")
    houses = {station.id: station.house for station in plan.stations}
    for rate in learned.rates:
        whole = f"{rate.whole_ppm:+.0f} ± {rate.whole_sd_ppm:.0f} ppm"
        own = f"{rate.own_ppm:+.0f} ± {rate.own_sd_ppm:.0f} ppm"
        rates.add_row(Text(rate.run), Text(houses[rate.station]), whole, own)
    console.print(rates)
    moved = Shown("House", "All moves by", "Head seen after plan", "after the corrected plan")
    for line in learned.differences:
        off = ["" if off_s is None else f"{off_s:+.2f} s" for off_s in (line.seen_off_old_s, line.seen_off_new_s)]
        moved.add_row(Text(line.house), f"{line.moved_s:+.2f} s", *off)
    console.print(moved)
    for word, texts in (("Gone", learned.gone), ("New", learned.new)):
        for text in texts:
            console.print(Text(f"{word}: {text}"), soft_wrap=True)


def print_library(lines: Iterable[LibraryLine], console: Console) -> None:
    """Tell the runs of a log, a line each; what was not counted yet has a question mark."""
    shown = Shown("Day", "Run", "Title", "Houses", "Events", "Trouble")
    for line in lines:
        title = line.fault or (line.facts.title if line.facts else "")
        houses = ", ".join(line.houses)
        shown.add_row(f"{line.day}", *map(Text, (line.run, title, houses)), f"{line.events}", Text(_trouble(line)))
    console.print(shown if shown.row_count else Text("There is no such run."))


def _trouble(line: LibraryLine) -> str:
    if line.trouble is None:
        return "?"
    return ", ".join(f"{ALARM_KINDS[kind].name} {times}" for kind, times in line.trouble.items())
