"""`festoon debrief`, `learn` and `runs`: their tables in the terminal."""

from collections.abc import Iterable

from rich.console import Console
from rich.table import Table as Shown
from rich.text import Text

from server.review.lessons import Lessons
from server.review.library import LibraryLine
from server.review.reading import Reading
from server.review.report import cell_text
from server.review.tables import Table
from server.timeline.plan import Plan

# Every event and every pass is in the files that are handed on; here they would hide the rest.
LEFT_OUT = frozenset({"events", "passes", "slack"})


def print_account(reading: Reading, console: Console) -> None:
    """Tell a run table by table, but for the long ones."""
    for one in reading.tables:
        if one.id not in LEFT_OUT:
            console.print(_shown(one, reading.plan) if one.rows else Text(f"{one.title}: none"))
            console.print()


def _shown(given: Table, plan: Plan) -> Shown:
    shown = Shown(title=given.title, title_justify="left")
    for column in given.columns:
        shown.add_column(column.title, justify="left" if column.unit == "text" else "right")
    for row in given.rows:
        cells = zip(given.columns, row, strict=True)
        shown.add_row(*(Text(cell_text(cell, column.unit, plan)) for column, cell in cells))
    return shown


def print_lessons(learned: Lessons, console: Console) -> None:
    """Tell what runs say of each path and rate, and what the corrected plan would say otherwise."""
    paths = Shown("Link", "Planned", "Learned", "", title="Paths", title_justify="left")
    for one in learned.paths:
        old = f"{one.old:.2f} ± {one.old_sd:.2f} {one.unit}"
        new = f"{one.new:.2f} ± {one.new_sd:.2f} {one.unit}"
        paths.add_row(Text(one.link), old, new, "" if one.changed else "left as it is")
    console.print(paths)
    rates = Shown("Run", "Station", "Rate", "Of it its own", title="Rates", title_justify="left")
    for rate in learned.rates:
        whole = f"{rate.whole_ppm:+.0f} ± {rate.whole_sd_ppm:.0f} ppm"
        rates.add_row(Text(rate.run), Text(rate.station), whole, f"{rate.own_ppm:+.0f} ± {rate.own_sd_ppm:.0f} ppm")
    console.print(rates)
    moved = Shown("Station", "House", "All moves by", "Head seen after plan", "after the corrected plan")
    for line in learned.differences:
        off = ["" if off_s is None else f"{off_s:+.2f} s" for off_s in (line.seen_off_old_s, line.seen_off_new_s)]
        moved.add_row(Text(line.station), Text(line.house), f"{line.moved_s:+.2f} s", *off)
    console.print(moved)
    for word, texts in (("Gone", learned.gone), ("New", learned.new)):
        for text in texts:
            console.print(Text(f"{word}: {text}"), soft_wrap=True)


def print_library(lines: Iterable[LibraryLine], console: Console) -> None:
    """Tell the runs of a log, a line each; what was not counted yet has a question mark."""
    shown = Shown("Day", "Run", "Title", "Houses", "Events", "Trouble")
    for line in lines:
        title = line.fault or (line.plan.title if line.plan else "")
        trouble = "?" if line.trouble is None else ", ".join(f"{kind} {n}" for kind, n in line.trouble.items())
        houses = ", ".join(line.houses)
        shown.add_row(f"{line.day}", *map(Text, (line.run, title, houses)), f"{line.events}", Text(trouble))
    console.print(shown if shown.row_count else Text("There is no such run."))
