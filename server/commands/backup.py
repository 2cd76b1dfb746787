"""`festoon backup` and `festoon restore`: the whole log as one file, and back."""

import tempfile
from pathlib import Path
from typing import Annotated

import typer

from server.commands.accounts import Data
from server.commands.options import faults_told, settings_given
from server.timeline.amounts import amount

NAMED = "festoon-%Y-%m-%d-%H%M%S.db"
"""What a backup in a folder is called: by UTC, so that names are in order."""

File = Annotated[Path, typer.Argument(metavar="FILE", help="One file with the whole log.", show_default=False)]


def backup(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="A new file; or a folder, for one named by the day.", show_default=False),
    ],
    data: Data = None,
    is_tried: Annotated[bool, typer.Option("--try", help="Restore it, into a folder that goes again.")] = False,
    keep: Annotated[
        int | None, typer.Option(min=1, help="Of those in the folder, how many are kept.", show_default=False)
    ] = None,
) -> None:
    """Copy the whole log into a new file; the server may go on meanwhile."""
    from server.clock import Clock
    from server.runlog import RunLogFault
    from server.runlog.backup import backup_to_file

    if keep is not None and not file.is_dir():
        raise typer.BadParameter(f"{file} is no folder: older backups are counted in one", param_hint="--keep")
    made = file / Clock().now().strftime(NAMED) if file.is_dir() else file
    with faults_told(RunLogFault):
        copied = backup_to_file(settings_given(None, None, data).data, made)
        typer.echo(f"{made}: {amount(copied.runs, 'run')} with {amount(copied.events, 'event')}.")
        if is_tried:
            _try(made)
            typer.echo("It was restored, and every run in it can be read.")
    if keep is not None:
        for old in sorted(file.glob("festoon-????-??-??-??????.db"))[:-keep]:
            old.unlink()
            typer.echo(f"{old} is gone.")


def _try(made: Path) -> None:
    """Restore a backup into a folder of its own, and read every run. Raises RunLogFault where one is not whole."""
    from contextlib import closing

    from server.runlog import RunLog, RunLogFault
    from server.runlog.backup import restore_from_file
    from server.runlog.damage import is_damaged

    if is_damaged(made):
        raise RunLogFault(
            f"The log that was copied to {made} is damaged: start the server, which saves what it can, then back up."
        )
    with tempfile.TemporaryDirectory(prefix="festoon-") as folder:
        restore_from_file(made, folder, replace=False)
        with closing(RunLog.open(folder)) as log:
            for run in log.runs():
                if len(log.lost(run.run_id)) > len(log.noted_losses(run.run_id)):
                    raise RunLogFault(f"{made} is not whole. {run.run_id}: {' '.join(log.lacking(run.run_id))}")


def restore(
    file: File,
    data: Data = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Put a log that is there aside, under another name.")
    ] = False,
) -> None:
    """Make a backup the log of a folder that has none."""
    from server.runlog import RunLogFault
    from server.runlog.backup import restore_from_file

    with faults_told(RunLogFault):
        where = settings_given(None, None, data).data
        copied = restore_from_file(file, where, replace=replace)
    if copied.aside is not None:
        typer.echo(f"The log that was there is now {copied.aside}.")
    typer.echo(f"{where}: {amount(copied.runs, 'run')} with {amount(copied.events, 'event')}.")
    typer.echo("Every device is to be paired anew.")
