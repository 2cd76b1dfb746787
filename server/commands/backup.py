"""`festoon backup` and `festoon restore`: the whole log as one file, and back."""

from pathlib import Path
from typing import Annotated

import typer

from server.commands.accounts import Data
from server.commands.options import faults_told, settings_given

File = Annotated[Path, typer.Argument(metavar="FILE", help="One file with the whole log.", show_default=False)]


def backup(file: File, data: Data = None) -> None:
    """Copy the whole log into a new file; the server may go on meanwhile."""
    from server.runlog import RunLogFault
    from server.runlog.backup import backup_to_file

    with faults_told(RunLogFault):
        copied = backup_to_file(settings_given(None, None, data).data, file)
    typer.echo(f"{file}: {copied.runs} runs with {copied.events} events.")


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
    typer.echo(f"{where}: {copied.runs} runs with {copied.events} events.")
    typer.echo("Every device is to be paired anew.")
