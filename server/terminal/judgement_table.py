"""What the judge says of a plan, to read and to print: findings, the life of each reserve, and who is where."""

from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.planning.crew import CrewPlan
from server.planning.findings import Finding, Level, clock_text, span_text
from server.planning.judge import Judgement
from server.planning.life import Life
from server.terminal.plain_tables import clock_cell, print_list, print_tables, row_of, table_of
from server.timeline.naming import link_of
from server.timeline.plan import Plan

_LEVELS: dict[Level, str] = {"fault": "Fault", "warning": "Warning", "note": "Note"}
_WHAT_WIDTH = 30


def print_findings(console: Console, heading: str, findings: Iterable[Finding]) -> None:
    """Print each finding whole, with its cause and what mends it under it; nothing where there are none."""
    table = Table.grid(padding=(0, 1, 0, 0))
    for finding in findings:
        table.add_row(*row_of(["-", f"{_LEVELS[finding.level]}. {finding.text}"]))
        table.add_row(*row_of(["", f"Cause: {finding.cause}"]))
        table.add_row(*row_of(["", f"Remedy: {finding.remedy}"]))
    if table.row_count:
        console.print("")
        console.print(Text(heading))
        console.print(table)


def print_reserves(plan: Plan, lives: tuple[Life, ...], console: Console) -> None:
    """Print how long each reserve lasts, for these motors and this start."""
    if not lives:
        return
    table = table_of(
        "Life of the reserves",
        names=("Link",),
        numbers=("Reserve s", "5 % spent in", "half in", "Before it is out"),
        widths={"Link": 24},
    )
    for life in lives:
        spent = (_within(life.spent_p05_s), _within(life.spent_p50_s))
        table.add_row(
            *row_of([link_of(plan, life.link), f"{life.reserve_s:.1f}", *spent, _share(life.spent_before_out)])
        )
    print_tables(console, table)
    timing = plan.timing
    console.print(
        Text(
            f"For motors that differ by {timing.rate_tolerance_ppm:g} ppm and start {timing.start_spread_s:g} s off, "
            f"each one standard deviation."
        )
    )


def _within(seconds: float | None) -> str:
    if seconds is None:
        return "over a day"
    return "at once" if seconds < 1.0 else span_text(seconds)


def _share(probability: float) -> str:
    if probability < 0.0005:
        return "under 0.1 %"
    return f"{probability * 100:.1f} %" if probability < 0.1 else f"{probability * 100:.0f} %"


def print_crew(plan: Plan, judgement: Judgement, asked: int | None, console: Console) -> None:
    """Print how many people the show takes, and who is where and when where somebody asked about a crew."""
    crew = judgement.crew
    print_list(console, "Crew:", _crew_lines(plan, crew, asked))
    if asked is not None:
        print_tables(console, *(_person(plan, crew, number) for number in range(len(crew.people))))


def _crew_lines(plan: Plan, crew: CrewPlan, asked: int | None) -> Iterator[str]:
    few = "One person is" if crew.enough == 1 else f"{crew.enough} people are"
    yield f"{few} enough for this show by its plan, and one more for what does not go by it."
    if crew.least < crew.enough:
        yield f"That fewer than {crew.least} are too few is proved; of the numbers between nothing is."
    if asked is not None:
        for missed in crew.missed:
            by = clock_text(plan, missed.duty.by_s)
            late = span_text(missed.late_s)
            yield f"Not done by {asked}: House {missed.duty.house}, {missed.duty.what}, by {by} ({late} late)."


def _person(plan: Plan, crew: CrewPlan, number: int) -> Table:
    table = table_of(
        f"Person {number + 1}",
        names=("Booth", "House", "To do"),
        numbers=("From", "By", "Walk s"),
        widths={"To do": _WHAT_WIDTH},
    )
    for task in crew.people[number]:
        duty = task.duty
        times = (clock_cell(plan, task.begin_s), clock_cell(plan, duty.by_s), f"{task.walk_s:.0f}")
        table.add_row(*row_of([duty.booth or "", duty.house, duty.what, *times]))
    return table
