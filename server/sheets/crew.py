"""The sheet of the crew: for each person where to be and what to do, in order."""

from collections.abc import Iterator
from typing import Final

from server.planning.crew import Missed, Task
from server.planning.findings import clock_text, span_text
from server.sheets.markup import Column, Html, across, box, clock, element, joined, listed, row, section, table
from server.sheets.page import heading
from server.sheets.show import Show
from server.sheets.times import clock_s, day_of, day_text, second_down, second_up

TITLE: Final = "Crew"

_TO_DO: Final = Column("To do", 30)
_COLUMNS: Final = (
    Column("From", 16, "n"),
    Column("Begin by", 16, "n"),
    Column("Booth", 17),
    Column("House", 13),
    _TO_DO,
    Column("Done", 8, "tick"),
)


def crew_body(show: Show) -> Html:
    """Return the body of the crew's sheet, a part for each person."""
    crew = show.judgement.crew
    people = (_person(show, number, tasks) for number, tasks in enumerate(crew.people, 1))
    missed = listed(_missed_text(show, missed) for missed in crew.missed)
    undone = element("div", element("p", "Nobody is free for:"), missed, style="stop") if crew.missed else Html()
    enough = "1 person is" if crew.enough == 1 else f"{crew.enough} people are"
    said = f"{enough} enough by the plan, and one more for what does not go by it."
    return joined([heading(show, TITLE, said), undone, *people])


def _missed_text(show: Show, missed: Missed) -> str:
    duty = missed.duty
    return (
        f"House {duty.house}: {duty.what}, by {clock_text(show.plan, duty.by_s)} ({span_text(missed.late_s)} too late)"
    )


def _person(show: Show, number: int, tasks: tuple[Task, ...]) -> Html:
    name = f"Person {number}"
    columns = [column._replace(heading=name) if column is _TO_DO else column for column in _COLUMNS]
    return section(f"{name}: ______________________", table(columns, _rows(show, tasks)), style="person")


def _rows(show: Show, tasks: tuple[Task, ...]) -> Iterator[Html]:
    plan, day = show.plan, day_of(show.plan, 0.0)
    for task in tasks:
        duty, begin_s = task.duty, second_up(task.begin_s)
        if day_of(plan, begin_s) != day:
            day = day_of(plan, begin_s)
            yield across(_COLUMNS, day_text(day), style="date")
        what = f"{duty.what[:1].upper()}{duty.what[1:]}"
        by = clock(clock_s(plan, max(second_down(duty.by_s), begin_s), day))
        cells = (element("b", clock_s(plan, begin_s, day)), by, duty.booth or "", element("b", duty.house), what, box())
        yield row(_COLUMNS, cells)
