"""`festoon put-away` and `festoon remove`: a run put away, brought back, or deleted, because somebody said so."""

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.accounts import AccountFault, Data
from server.commands.options import faults_told, settings_given

if TYPE_CHECKING:
    from server.runlog import RunLog

RunName = Annotated[str, typer.Argument(metavar="RUN", help="The name of a run of the log.", show_default=False)]


def put_away(
    run: RunName,
    back: Annotated[bool, typer.Option("--back", help="Bring it back.")] = False,
    by: Annotated[str | None, typer.Option(help="Who puts it away.", show_default=False)] = None,
    data: Data = None,
) -> None:
    """Put a run away, so that lists leave it out; nothing of it is lost."""
    from server.clock import Clock

    def change(log: "RunLog") -> "asyncio.Future[int]":
        return log.library.bring_back(run) if back else log.library.archive(run, Clock().now(), by)

    _change(run, data, change)
    typer.echo(f"{run} is back." if back else f"{run} is put away; `festoon put-away --back {run}` brings it back.")


def remove(
    run: RunName,
    yes: Annotated[bool, typer.Option("--yes", help="Delete it for good.")] = False,
    data: Data = None,
) -> None:
    """Delete a run and everything observed in it, for good."""
    if not yes:
        raise typer.BadParameter("a run is removed for good: say --yes", param_hint="--yes")
    _change(run, data, lambda log: log.library.remove(run))
    typer.echo(f"{run} is removed.")


def _change(run: str, data: str | None, change: "Callable[[RunLog], asyncio.Future[int]]") -> None:
    """Change a run of a log that no server has open."""
    from contextlib import closing

    from server.runlog import RunLog, RunLogFault, StoredRuns

    async def changed(log: RunLog) -> None:
        await change(log)

    with faults_told(RunLogFault, AccountFault):
        where = settings_given(None, None, data).data
        with closing(StoredRuns.reading(where)) as log:
            names = [stored.run_id for stored in log.runs()]
        if run not in names:
            raise AccountFault(f"There is no run {run!r} in {where}: `festoon runs` lists them.")
        with closing(RunLog.open(where)) as log:
            asyncio.run(changed(log))
