"""The lacing of a chain and what comes after its show, to read and to print."""

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.planning.findings import clock_text
from server.planning.lacing import Lacing
from server.planning.leader import cut_ft
from server.planning.next_show import NextShow
from server.terminal.plain_tables import clock_cell, print_list, print_tables, row_of, table_of
from server.timeline.plan import Plan

_STEP_WIDTH = 34
_WHERE_WIDTH = 16


def print_lacing(plan: Plan, lacing: Lacing, console: Console) -> None:
    """Print the leader, the stretches with their pull, and the steps in the order they are done."""
    if lacing.stretches:
        print_tables(console, _stretches(lacing))
    print_list(console, f"Leader, {cut_ft(lacing.leader_ft)} ft in all:", _parts(lacing))
    print_tables(console, _steps(plan, lacing))
    people = "one person" if lacing.crew == 1 else f"{lacing.crew} people"
    console.print(
        Text(
            f"{lacing.whole_minutes} minutes for {people}: begin at {clock_text(plan, lacing.begin_s)} "
            f"to be ready at {clock_text(plan, lacing.ready_s)}."
        )
    )
    print_list(console, "Taken for that:", lacing.assumed)


def _parts(lacing: Lacing) -> Iterator[str]:
    return (f"{part.feet:.0f} ft: {part.what}" for part in lacing.parts)


def _stretches(lacing: Lacing) -> Table:
    table = table_of(
        "Stretches, spliced where they meet",
        names=("From house", "to house"),
        numbers=("Path ft", "Rollers", "Turns", "Pull N", "Pull"),
    )
    for pull in lacing.stretches:
        numbers = (f"{pull.path_ft:.0f}", str(pull.rollers), f"{pull.turns_deg:.0f}", f"{pull.pull_n:.0f}", pull.effort)
        table.add_row(*row_of([pull.from_house, pull.to_house, *numbers]))
    return table


def _steps(plan: Plan, lacing: Lacing) -> Table:
    table = table_of(
        "Lacing, in this order",
        names=("No.", "Step", "Where"),
        numbers=("People", "Min.", "From"),
        widths={"Step": _STEP_WIDTH, "Where": _WHERE_WIDTH},
    )
    said = None
    for step in lacing.steps:
        # A caution stands where it begins to hold, and is not said again for the same work next door.
        what = step.what if step.caution in {None, said} else f"{step.what}. {step.caution}"
        said = step.caution
        at = clock_cell(plan, lacing.begin_s + step.begins_min * 60.0)
        table.add_row(*row_of([str(step.number), what, step.where, str(step.people), f"{step.minutes:.1f}", at]))
    return table


def print_next_show(plan: Plan, after: NextShow, console: Console) -> None:
    """Print what a show leaves behind, and from when the next may start."""
    print_list(console, "After the show:", _after(plan, after))


def _after(plan: Plan, after: NextShow) -> Iterator[str]:
    is_one = len(plan.stations) == 1
    yield f"House {after.first_free_house} may be laced again from {clock_text(plan, after.first_free_s)}."
    clear = f"House {after.print_at} is" if is_one else "All houses are"
    yield (
        f"{clear} clear at {clock_text(plan, after.last_free_s)}; the print, about {after.print_kg:.0f} kg, "
        f"then lies on {'its take-up' if is_one else f'the take-up of House {after.print_at}'}."
    )
    for way in after.ways_back:
        yield f"{way.how} There from {clock_text(plan, way.there_s)}."
    yield f"Laced anew, the same chain may start again from {clock_text(plan, after.lacing_anew_s)}."
    behind = after.behind
    if not behind.fits:
        yield (
            f"Leader of the chain's length behind the tail would make a roll of {behind.roll_mm / 1000.0:.2f} m, "
            f"more than the first deck takes."
        )
        return
    saves = f"{behind.saves_min:.0f} minutes sooner" if behind.saves_min >= 1.0 else "no sooner"
    yield (
        f"With {cut_ft(behind.leader_ft)} ft of leader spliced on behind the tail the chain stays laced, and may start "
        f"from {clock_text(plan, behind.earliest_s)}: {saves}. One person splices it on as the print is made up."
    )
    if is_one:
        yield "The failsafe then finds film when the print is out: the motor is stopped by hand."
    else:
        yield "The failsafes then find film when the print is out: the motors are stopped by hand, all at once."
