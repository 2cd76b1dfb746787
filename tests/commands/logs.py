"""A log with a finished run, for commands to be run on."""

import asyncio
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from typer.testing import CliRunner

from server.cli import app
from server.runlog import RunLog
from tests.desk.past import fill


class Said(NamedTuple):
    """What a command wrote, and its exit status."""

    status: int
    out: str
    err: str


def said(*words: object) -> Said:
    """Run `festoon` with these words."""
    result = CliRunner().invoke(app, [str(word) for word in words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Said(result.exit_code, result.stdout, result.stderr)


def filled(folder: Path, *runs: str) -> Path:
    """A folder with a log of these runs, all of the same show."""
    with closing(RunLog.open(folder)) as log:
        for run in runs:
            asyncio.run(fill(log, run))
    return folder
