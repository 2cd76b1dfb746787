"""`festoon debrief`: the account of a run in the terminal, or as a report, tables and a recording."""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.accounts import AccountFault, AskedRun, Data, asked_run, recorded_run, refuse_old, write_new
from server.commands.options import faults_told, settings_given

if TYPE_CHECKING:
    from server.review.account import Clock
    from server.review.reading import Reading

MAY_BE_TWO = 2


def _output(what: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(metavar="FILE", help=what, show_default=False)
    return option


def debrief(
    what: Annotated[
        list[str],
        typer.Argument(
            metavar="RUN | RECORDING | PLAN EVENTS",
            help="A run of the log, a recording that carries its plan, or a plan and a recording.",
            show_default=False,
        ),
    ],
    html: Annotated[Path | None, _output("The report as one page.")] = None,
    pdf: Annotated[Path | None, _output("The report as PDF.")] = None,
    csv: Annotated[Path | None, _output("Every table as CSV, in one ZIP file.")] = None,
    recording: Annotated[Path | None, _output("The recording, which carries its plan.")] = None,
    then: Annotated[bool, typer.Option("--then", help="As it was known then, not as it is known now.")] = False,
    data: Data = None,
) -> None:
    """Go through a finished run: what happened and its tables here, or files to hand on. No file is overwritten.

    Of a run that lost events the rest is told, then what is lost, and the status is 1.
    """
    if len(what) > MAY_BE_TWO:
        raise typer.BadParameter("give a run, a recording, or a plan and a recording", param_hint="RUN")
    from server.printing import PrintingFault
    from server.review.reading import Reading
    from server.runlog import RunLogFault

    clock: Clock = "then" if then else "now"
    with faults_told(RunLogFault, AccountFault, PrintingFault):
        if len(what) == MAY_BE_TWO:
            asked = recorded_run(Path(what[0]), Path(what[1]))
        else:
            asked = asked_run(what[0], settings_given(None, None, data).data)
        reading = Reading(asked.account, clock)
        makers = zip((html, pdf, csv, recording), _makers(asked, reading), strict=True)
        outputs = {path: make for path, make in makers if path is not None}
        if not outputs:
            _print(reading)
        _write(outputs)
        for line in asked.lacking:
            typer.echo(f"{asked.id}: {line}", err=True)
        if asked.lacking:
            raise typer.Exit(1)


def _write(outputs: Mapping[Path, Callable[[], str | bytes]]) -> None:
    """Write every file, or none where one of them is there already."""
    for path in outputs:
        refuse_old(path)
    for path, make in outputs.items():
        write_new(path, make())
        typer.echo(path)


def _makers(asked: AskedRun, reading: "Reading") -> Iterator[Callable[[], str | bytes]]:
    """What makes the report, the report as PDF, the tables and the recording."""
    from server.printing import pdf_from_html
    from server.review.recordings import text_from_account
    from server.review.report import report_html
    from server.review.tables import zip_from_tables

    yield lambda: report_html(reading)
    yield lambda: pdf_from_html(report_html(reading))
    yield lambda: zip_from_tables(reading.tables)
    yield lambda: text_from_account(asked.account, asked.plan_name, asked.plan_text)


def _print(reading: "Reading") -> None:
    from rich.console import Console

    from server.terminal.account_tables import print_sections

    print_sections(reading, Console())
