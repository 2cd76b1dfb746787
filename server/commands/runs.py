"""`festoon runs`: the runs of the log, found by date, plan, house and trouble."""

import json
from collections.abc import Iterable
from contextlib import closing
from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.accounts import Data
from server.commands.options import AsJson, faults_told, settings_given

if TYPE_CHECKING:
    from server.review.library import LibraryLine
    from server.runlog import StoredRuns


def runs(
    first_day: Annotated[
        datetime | None, typer.Option("--from", formats=["%Y-%m-%d"], help="The first day.", show_default=False)
    ] = None,
    last_day: Annotated[
        datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="The last day.", show_default=False)
    ] = None,
    text: Annotated[str | None, typer.Option(help="In run, title, site or plan file.", show_default=False)] = None,
    plan: Annotated[str | None, typer.Option(help="In title or plan file.", show_default=False)] = None,
    house: Annotated[str | None, typer.Option(help="A house of the chain.", show_default=False)] = None,
    trouble: Annotated[
        str | None, typer.Option(help="An alarm kind that was raised, or any.", show_default=False)
    ] = None,
    put_away: Annotated[bool, typer.Option("--put-away", help="Those that were put away.")] = False,
    as_json: AsJson = False,
    data: Data = None,
) -> None:
    """List the runs of the log, the newest show first."""
    from server.review.library import Wanted, lines_of
    from server.runlog import RunLogFault, StoredRuns

    first, last = (None if day is None else day.date() for day in (first_day, last_day))
    wanted = Wanted(first, last, text, plan, house, trouble, archived=put_away)
    with faults_told(RunLogFault), closing(StoredRuns.reading(settings_given(None, None, data).data)) as log:
        # Going through a run takes a second, so only those are gone through that everything else fits.
        fitting = [line for line in lines_of(log) if wanted._replace(trouble=None).matches(line)]
        found = [line for line in (_counted(log, fitting) if trouble else fitting) if wanted.matches(line)]
    _tell(found, as_json=as_json)


def _counted(log: "StoredRuns", lines: "Iterable[LibraryLine]") -> "list[LibraryLine]":
    """The same lines, the trouble of each counted where its plan can be read."""
    from server.review.account import account_from_log
    from server.review.library import plan_or_fault, trouble_of
    from server.review.reading import Reading

    def counted(line: "LibraryLine") -> "LibraryLine":
        stored = None if line.trouble is not None else log.run(line.run)
        plan, _ = (None, None) if stored is None else plan_or_fault(stored.plan_text, stored.plan_name)
        if plan is None:
            return line
        return line._replace(trouble=trouble_of(Reading(account_from_log(plan, log.events(line.run)), "then")))

    return list(map(counted, lines))


def _tell(lines: "list[LibraryLine]", *, as_json: bool) -> None:
    from rich.console import Console

    from server.review.library import line_json
    from server.terminal.account_tables import print_library

    if as_json:
        for line in lines:
            typer.echo(json.dumps(line_json(line)))
    else:
        print_library(lines, Console())
