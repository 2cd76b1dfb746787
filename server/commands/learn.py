"""`festoon learn`: what runs say of their plan, and the corrected plan where it is asked for."""

from pathlib import Path
from typing import Annotated

import typer

from server.commands.accounts import AccountFault, Data, asked_run, write_new
from server.commands.options import faults_told, settings_given


def learn(
    runs: Annotated[
        list[str],
        typer.Argument(
            metavar="RUN",
            help="Runs of the log, or recordings that carry their plan; of one chain.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the corrected plan there.", show_default=False)
    ] = None,
    data: Data = None,
) -> None:
    """Learn what the paths and rates really were; the plan of the last run is the one that is corrected."""
    from rich.console import Console

    from server.review.lessons import LessonFault, Taught, lessons_from_runs
    from server.review.reading import Reading
    from server.runlog import RunLogFault
    from server.terminal.account_tables import print_lessons

    with faults_told(RunLogFault, AccountFault, LessonFault):
        where = settings_given(None, None, data).data
        asked = [asked_run(run, where) for run in runs]
        learned = lessons_from_runs(
            [Taught(one.id, Reading(one.account), one.plan_name, one.plan_text) for one in asked]
        )
        print_lessons(learned, Console())
        if out is not None:
            write_new(out, learned.text)
            typer.echo(out)
